"""What of a run can be looked at: the frame sent last, written only while somebody looks."""

from functools import partial

from patterns.plain import Frame
from streamer.display.slots import Indices
from streamer.engine.changes import Words
from streamer.engine.stage import Stage
from streamer.engine.window import Closed, Shows, Window


class Showing:
    """The window of a run, for the frames of one stage at a time."""

    def __init__(self, stage: Stage) -> None:
        self.window: Window = Closed()
        self._stage = stage
        self._sent: Frame | None = None
        self.is_watched = True
        """Whether somebody looks, or may."""

    def be_watched(self, *, on: bool) -> None:
        """Let somebody look from now on, or nobody: for 1,000 universes each frame is 680 kB."""
        if on:
            self._catch_up()
        self.is_watched = on

    def _catch_up(self) -> None:
        if self._sent and not self.is_watched:
            self.window.write(self._stage.seen(self._sent))

    def go_over_to(self, stage: Stage) -> None:
        """Show the frames of another stage."""
        # Of the frames of one stage, the other could not tell which nodes are planned.
        self._catch_up()
        self._stage, self._sent = stage, None

    def lay_by(self, frames: Frame) -> list[Shows]:
        """Return what shows each of some frames, (F, N, 4) and (F, C); nothing for nobody."""
        return self.window.lay_by(*self._stage.seen(frames)) if self.is_watched else []

    def alterations(self, lights: Indices, words: Words) -> list[Shows]:
        """Return what shows the next frame, which changes these lights so; nothing for nobody."""
        return [partial(self.window.alter, lights, words)] if self.is_watched else []

    def note(self, frame: Frame) -> None:
        """Take note of a frame that has been sent, and shown if anybody looks."""
        self._sent = frame

    def show(self, frame: Frame) -> None:
        """Show the frame that is being sent, which the stage admitted last."""
        if frame is not self._sent:
            self._sent = frame
            if self.is_watched:
                self.window.write(self._stage.seen(frame), self._stage.altered)
