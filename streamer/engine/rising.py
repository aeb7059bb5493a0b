"""When a look can be seen: frames with it have gone out, and the flash guard has held none of them back."""

from dataclasses import dataclass

from streamer.engine.messages import Counts, Show, State, Status

FRAMES_UP = 2
"""The first may still be the picture before; the second has left with it."""


@dataclass(slots=True)
class Rising:
    """A look that was asked for, a show held at a step (from 0), on its way out to the lights.

    `plan_before` is the number of the plan whose statuses do not count: what was on before it; None where the
    look is on the same setup as what was on.
    """

    show: Show
    step: int
    plan_before: int | None = None
    is_up: bool = False
    """Whether it can be seen. It stays so, whatever comes later."""
    _since: Counts | None = None

    def hear(self, status: Status) -> None:
        """Take in what the engine says."""
        if not self._is_it(status):
            self._since = None
        elif self._since is None or status.counts.held != self._since.held:
            self._since = status.counts
        elif status.counts.frames >= self._since.frames + FRAMES_UP:
            self.is_up = True

    def _is_it(self, status: Status) -> bool:
        is_lit = status.state is not State.DARK and status.plan != self.plan_before
        return is_lit and status.show == self.show and status.step == self.step
