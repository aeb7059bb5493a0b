"""The player: which picture is shown at a moment. Pattern, step, in hand, dark, level.

It knows no packets. Time is an argument.
"""

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from patterns.plain import COMPONENTS, Bytes, Frame, Layout, Lit, Moment, Params, Pattern, PatternError
from patterns.registry import get, settle
from streamer.engine.difference import ANYTHING, Change
from streamer.engine.limits import Brief, Limits
from streamer.engine.messages import RATE_HIGH_HZ, Show, State
from streamer.engine.recent import Recent
from streamer.flash_rule import FLASHES_PER_S

STEP_SLACK = 1e-6
"""A step due within a millionth of a step is due now: rounding must not put it off by a whole frame."""
KEPT_OCTETS = 4 * 1024 * 1024
"""Of pictures that are kept, for small displays in full, for large ones in short."""
STEP_LIMIT = 2**31 - 1
"""The furthest step that can be jumped to: what fits NumPy's integers on every platform."""


class Reached(NamedTuple):
    """How far a player has come."""

    first_step: int = 0
    steps_since: float = 0.0
    played_s: float = 0.0
    seen_s: float = 0.0
    """The moment of the last picture."""


class Player:
    """Plays a show on a layout from `now_s` on, as fast as so many flashes a second allow."""

    def __init__(self, layout: Layout, show: Show, now_s: float, flashes_per_s: int = FLASHES_PER_S) -> None:
        self._layout = layout
        self._flashes_per_s = flashes_per_s
        self.reached = Reached(seen_s=now_s)
        """Another object with each picture that is another."""
        self.in_hand = False
        self.dark = False
        self._load(show)

    def _load(self, show: Show) -> None:
        """Take up a show whole, or raise PatternError or PlanError and go on with the one before."""
        pattern = get(show.pattern)
        params = settle(pattern, show.params)
        limits = Limits(self._layout, show.level_percent, show.ports)
        self.steps = max(1, pattern.steps(self._layout, params))
        pace = pattern.pace if show.pace is None else show.pace
        self.pace = min(pace, pace_limit(pattern, self._flashes_per_s))
        self.show, self._pattern, self._params, self._limits = show, pattern, params, limits
        self._pictured: tuple[int, Frame] | None = None
        self.change_of_picture = ANYTHING
        """What has changed with the last other `picture` that was not the dark."""
        self._recent: Recent[Frame] = Recent(KEPT_OCTETS)
        self._recent_briefs: Recent[Brief] = Recent(KEPT_OCTETS)

    def limit(self, flashes_per_s: int) -> None:
        """Go on as fast as so many flashes a second allow."""
        self._flashes_per_s = flashes_per_s
        self._load(self.show)

    def change(self, show: Show) -> None:
        """Show something else; another pattern begins at its first step, the same one goes on."""
        before = self.show.pattern
        self._load(show)
        if show.pattern != before:
            self.reached = Reached(seen_s=self.reached.seen_s)

    @property
    def step(self) -> int:
        """The step reached, from 0, not wrapped."""
        return self.reached.first_step + math.floor(self.reached.steps_since + STEP_SLACK)

    @property
    def now_showing(self) -> str:
        """The pattern's own line about this moment."""
        return self._pattern.describe(self._layout, self._moment, self._params)

    @property
    def bursts(self) -> bool:
        """Whether this picture goes out once and all at one moment; the dark never does."""
        return self._pattern.bursts and not self.dark

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
        """Take the pattern in hand at a step; PatternError beyond `STEP_LIMIT`."""
        if abs(step) > STEP_LIMIT:
            raise PatternError([f"there is no such step; it has {self.steps}, counted from 0"])
        self.in_hand = True
        self.reached = self.reached._replace(first_step=step, steps_since=0.0)

    def picture(self, moment_s: float) -> Frame:
        """Return what every light shows in the frame that is due at `moment_s`, the level applied."""
        self._reach(moment_s)
        if self.dark:
            return self._layout.dark()
        step = self.step % self.steps
        if self._pictured is None or self._pictured[0] != step:
            before = self._pictured[1] if self._pictured else None
            make = self._pattern.lit or self._pattern.render
            frame = self._limits.apply(make(self._layout, self._moment, self._params))
            self._pictured, self.change_of_picture = (
                (step, frame),
                Change(before, frame, self._limits.altered, self._limits.totals),
            )
        return self._pictured[1]

    def _reach(self, moment_s: float) -> None:
        # Asked for a change between two frames, the next frame may be due before it.
        first_step, steps_since, played_s, seen_s = self.reached
        passed_s = moment_s - seen_s if moment_s > seen_s else 0.0
        if not (self.dark or self.in_hand):
            played_s += passed_s
            steps_since += passed_s * self.pace
        self.reached = Reached(first_step, steps_since, played_s, seen_s + passed_s)

    def pictures(self, moments_s: Sequence[float]) -> tuple[Bytes, Bytes, list[Reached]]:
        """Return what `picture` would for each of these moments, and where that would be.

        Nodes are (F, N, 4) and channels (F, C). Nothing is taken to be reached by that.
        """
        before, reached, frames = self.reached, [], []
        for moment_s in moments_s:
            self._reach(moment_s)
            reached.append(self.reached)
            frames.append(self._layout.dark() if self.dark else self._kept_picture())
        self.reached = before
        # np.stack takes three times as long for pictures as small as these.
        nodes = np.concatenate([frame.nodes for frame in frames])
        channels = np.concatenate([frame.channels for frame in frames])
        return nodes.reshape(len(frames), -1, COMPONENTS), channels.reshape(len(frames), -1), reached

    def _kept_picture(self) -> Frame:
        """Return the picture of this step, made anew only if it has not been asked for lately."""
        step = self.step % self.steps
        frame = self._recent.at(step)
        if frame is None:
            rendered = self._pattern.render(self._layout, self._moment, self._params)
            frame = self._limits.applied(rendered)
            self._recent.keep(step, frame, frame.nodes.nbytes + frame.channels.nbytes)
        return frame

    @property
    def is_in_short(self) -> bool:
        """Whether its pictures are known in short."""
        return self._pattern.lit is not None and not self.dark

    def briefs(self, moments_s: Sequence[float]) -> tuple[list[Brief], list[Reached]] | None:
        """Return in short what `pictures` would, the same object for the same picture; None if it cannot."""
        lit = self._pattern.lit
        if lit is None or self.dark:
            return None
        before, reached, briefs = self.reached, [], []
        for moment_s in moments_s:
            self._reach(moment_s)
            reached.append(self.reached)
            briefs.append(self._kept_brief(lit))
        self.reached = before
        return briefs, reached

    def _kept_brief(self, lit: Callable[[Layout, Moment, Params], Lit]) -> Brief:
        step = self.step % self.steps
        brief = self._recent_briefs.at(step)
        if brief is None:
            brief = self._limits.brief(lit(self._layout, self._moment, self._params))
            self._recent_briefs.keep(step, brief, brief.lit.nodes.nbytes + brief.lit.values.nbytes)
        return brief

    def draw(self, lit: Lit) -> Bytes:
        """Return all nodes, (N, 4), of a picture that is as it may be sent."""
        return self._limits.draw(lit)

    @property
    def _moment(self) -> Moment:
        return Moment(self.step, self.reached.played_s)


def pace_limit(pattern: Pattern, flashes_per_s: int) -> float:
    """Return the most steps a second: a pattern's own limit is made for three flashes in it."""
    return min(RATE_HIGH_HZ, pattern.pace_limit * flashes_per_s / FLASHES_PER_S)
