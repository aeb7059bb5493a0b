"""What is sent, as the strings in hand hang: a search plays a lay-out of its own."""

from typing import TYPE_CHECKING

from streamer.display.model import Display

if TYPE_CHECKING:
    from patterns.plain import Frame
    from streamer.display.as_hung import FramesAsHung


class AsHung:
    """Frames of what is played, read as those of the display in hand."""

    def __init__(self) -> None:
        self._between: tuple[Display | None, Display | None] = None, None
        self._is_same = False
        self._frames: FramesAsHung | None = None

    def see(self, frame: "Frame | None", played: Display, hangs: Display) -> "Frame | None":
        """Return the frame as it arrives on what hangs."""
        before_played, before_hangs = self._between
        if played is not before_played or hangs is not before_hangs:
            # Compared once: a display of thousands of ports takes long.
            self._between, self._frames = (played, hangs), None
            self._is_same = played is hangs or played == hangs
        if frame is None or self._is_same:
            return frame
        if self._frames is None:
            # Loads NumPy, which the first paint need not wait for.
            from streamer.display.as_hung import FramesAsHung

            self._frames = FramesAsHung(played, hangs)
        return self._frames.frame(frame)
