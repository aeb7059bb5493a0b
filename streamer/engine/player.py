"""The player: which frame is shown at a moment. Pattern, step, pause, dark, level and flash guard.

It knows no packets. Time is an argument.
"""

import math

from patterns.plain import Frame, Layout, Moment
from patterns.registry import get, settle
from streamer.engine.guard import FlashGuard
from streamer.engine.limits import Limits
from streamer.engine.messages import Show, State


class Player:
    """Plays a show on a layout from `now_s` on."""

    def __init__(self, layout: Layout, show: Show, now_s: float) -> None:
        self._layout = layout
        self.guard = FlashGuard(len(layout.place), len(layout.channel_roles))
        self._base_step = 0
        self._played_s = 0.0
        self._seen_s = now_s
        self.in_hand = False
        self.dark = False
        self._load(show)

    def _load(self, show: Show) -> None:
        self.show = show
        self._pattern = get(show.pattern)
        self._params = settle(self._pattern, show.params)
        asked = self._pattern.pace if show.pace is None else show.pace
        self.pace = min(asked, self._pattern.pace_limit)
        self._limits = Limits(self._layout, show.level_percent, show.ports)
        self.steps = max(1, self._pattern.steps(self._layout, self._params))

    def change(self, show: Show) -> None:
        """Show something else; another pattern begins at its first step, the same one goes on."""
        step, is_same = self.step, show.pattern == self.show.pattern
        self._load(show)
        self._go_to(step if is_same else 0)

    @property
    def step(self) -> int:
        """The step reached, from 0, not wrapped."""
        return self._base_step + math.floor(self._played_s * self.pace)

    @property
    def now_showing(self) -> str:
        """The pattern's own line about this moment."""
        return self._pattern.describe(self._layout, self._moment, self._params)

    @property
    def state(self) -> State:
        """What a person is told that it does."""
        if self.dark:
            return State.DARK
        return State.IN_HAND if self.in_hand else State.RUNNING

    def step_by(self, by: int) -> None:
        """Take the pattern in hand and step it."""
        self.jump(self.step + by)

    def jump(self, step: int) -> None:
        """Take the pattern in hand at a step."""
        self.in_hand = True
        self._go_to(step)

    def _go_to(self, step: int) -> None:
        self._played_s = 0.0
        self._base_step = step

    def frame(self, now_s: float) -> Frame:
        """Return what every light shows at `now_s`, level and guard applied."""
        if not self.in_hand and not self.dark:
            self._played_s += now_s - self._seen_s
        self._seen_s = now_s
        if self.dark:
            return self.guard.admit(self._layout.dark(), now_s)
        picture = self._pattern.render(self._layout, self._moment, self._params)
        return self.guard.admit(self._limits.apply(picture), now_s)

    @property
    def _moment(self) -> Moment:
        return Moment(self.step, self._played_s)
