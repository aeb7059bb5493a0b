"""How many frames are made ahead at a time: as many as are quickly made. Time is an argument."""

from dataclasses import dataclass

MAKING_S = 0.008
"""How long making them may take, of the 25 ms until the next is due, or of the 15 ms since the last piece has
gone: next time, fewer are made or more. With fuses to be reckoned, a frame takes ten times as long; and the
first time, twice as long."""
FIRST_FRAMES = 8
GROWTH_MOST = 4
"""By so many times at once: of a few frames, most of the time is what any number would take."""


@dataclass(slots=True)
class Portion:
    """Learns it from how long the last ones took."""

    frames: int = FIRST_FRAMES
    _making: tuple[int, float] | None = None
    """How many have been made, and since when, if nobody has looked at the time yet."""

    def begin_anew(self) -> None:
        """Be careful: what is to be made is something else."""
        self.frames = min(self.frames, FIRST_FRAMES)

    def begun(self, frames: int, began_s: float) -> None:
        """Take note that so many have been made, from `began_s` on."""
        self._making = frames, began_s

    @property
    def began_s(self) -> float | None:
        """When making them began, if nobody has looked at the time since."""
        return self._making[1] if self._making else None

    def forget(self) -> None:
        """Learn nothing from the last ones: by now, other things have taken their time."""
        self._making = None

    def learn(self, now_s: float | None, most: int) -> bool:
        """Take note of how long it took until `now_s`, which is None if somebody has called meanwhile.

        Return whether nobody has. There are never more than `most` in a portion.
        """
        (frames, began_s), self._making = self._making or (0, 0.0), None
        if now_s is not None and frames:
            of_one_s = max(now_s - began_s, 0.0) / frames
            more = int(MAKING_S / of_one_s) if of_one_s else most
            self.frames = max(1, min(more, GROWTH_MOST * self.frames, most))
        return now_s is not None
