"""The flash guard: no light flashes more than three times in any second, or fewer, whatever is asked.

WCAG 2.x success criterion 2.3.1 allows no more than three general flashes in any one second, a flash being
a pair of opposing changes of a tenth of the maximum. That maximum is a screen's; a light has none, and blue
and dim red would slip under it, so every rise of any component by a tenth of the brightest value in the
frame counts. Each light is watched, and the display as a whole, so that neither one string nor many in
turn can flash. Time is an argument.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from patterns.plain import COMPONENTS, Bytes, Frame
from streamer.engine.difference import (
    ANYTHING,
    EVERY,
    NONE,
    Change,
    Chosen,
    differing_nodes,
    picked,
    put_back,
)
from streamer.engine.flashes import FlashWatch, TotalWatch
from streamer.engine.following import (
    Course,
    Step,
    Watches,
    follow,
    follow_by_frame,
    follow_by_turn,
    steps_of,
)
from streamer.engine.sequel import Sequel
from streamer.engine.totals import Totals, highest_of, sums_of
from streamer.flash_rule import FLASHES_PER_S

NONE_YET = -1
HIGHEST = 255


class _Foreseen(NamedTuple):
    """Where some frames to come lead."""

    lights: Chosen
    """Those that any of them concerns."""
    watches: Watches
    """Of these lights, the channels and the whole, as they will be."""
    course: Course
    changed: int
    """The last frame that is another than the one before; `NONE_YET` if none is."""
    sums: NDArray[np.int64]
    """Of that."""


class FlashGuard:
    """Watches the frames about to be shown, and says which may be."""

    def __init__(self, nodes: int, channels: int, most_per_s: int = FLASHES_PER_S) -> None:
        self.most_per_s = most_per_s
        self._shown = Frame(np.zeros((nodes, COMPONENTS), np.uint8), np.zeros(channels, np.uint8))
        self._own = self._shown.nodes
        """An array that nobody else writes into."""
        self._nodes = FlashWatch(nodes, COMPONENTS, most_per_s)
        self._channels = FlashWatch(channels, 1, most_per_s)
        self._asked: Frame | None = None
        """What was asked for when what is shown was let through."""
        self._whole = TotalWatch(COMPONENTS, most_per_s)
        self._sums = np.zeros(COMPONENTS, np.int64)
        """Of each component over all nodes, kept up with what changes."""
        self._highest = HIGHEST
        """No node that is shown has a higher octet."""
        self._foreseen: _Foreseen | None = None
        """What was followed last, until it is kept."""
        self.held = 0
        self.altered: Chosen = EVERY
        """The only nodes in which the frame returned last may differ from the one before."""

    def limit(self, most_per_s: int) -> None:
        """Allow so many from now on, 1 to `FLASHES_PER_S`; what has flashed counts."""
        self.most_per_s = most_per_s
        for watch in (self._nodes, self._channels, self._whole):
            watch.limit(most_per_s)

    def admit(self, frame: Frame, now_s: float, change: Change = ANYTHING) -> Frame:
        """Return `frame`, or the one shown last if this one would flash too often; `held` counts those.

        What is returned belongs to the guard, is the same object for as long as nothing changes, and another
        with the next change, when the one before may change with it. What is given must not change. Dark is
        always let through. Nothing is held for longer than a second: by then the flashes that speak against
        it are past.

        `change` spares the guard to look for what differs, if it is about a frame that was let through last.
        """
        self.altered = NONE
        if frame is self._asked:
            return self._shown
        if not change.is_about(self._asked, frame):
            change = Change(None, frame, differing_nodes(frame.nodes, self._shown.nodes), None)
        lights = change.altered
        if isinstance(lights, np.ndarray) and not len(lights) and _is_alike(frame, self._shown):
            return self._shown
        values = picked(frame.nodes, lights)
        sums, highest = change.totals or self._totals_of(frame, lights, values)
        peak = max(highest, highest_of(frame.channels))
        watches = Watches(self._nodes, self._channels, self._whole)
        step = Step(len(frame.nodes), frame.channels, sums.tolist(), peak, now_s, now_s)
        if not follow(watches, step, lights, values):
            self.held += 1
            self._asked = None
            return self._shown
        self._sums, self._highest = sums, highest
        self.altered, self._asked = lights, frame
        self._show(frame, lights, values)
        return self._shown

    def _show(self, frame: Frame, lights: Chosen, values: Bytes) -> None:
        """Show a frame that differs from what is shown in these lights alone: 680 kB, for 1,000 universes."""
        if isinstance(lights, np.ndarray) and self._shown.nodes is self._own:
            put_back(self._own, lights, values)
        else:
            self._own = frame.nodes.copy()
        self._shown = Frame(self._own, frame.channels.copy())

    def admit_each(
        self, nodes: Bytes, channels: Bytes, now_s: Sequence[float], seen_s: Sequence[float]
    ) -> list[Frame]:
        """Return what `admit` would for each of some frames in turn, up to the first that it would hold.

        `nodes` are (F, N, 4) and `channels` (F, C); they belong to the guard from then on. A frame that is
        not sent yet goes at `now_s` or later, and is dated `seen_s`: at the latest.
        """
        frames = self.foresee(nodes, channels, now_s, seen_s)
        self.keep()
        return frames

    def _totals_of(self, frame: Frame, lights: Chosen, values: Bytes) -> Totals:
        """Return the totals of a frame that differs from what is shown in these values of lights alone."""
        return Totals(self._sums_of(frame, lights, values), self._highest_of(frame, lights, values))

    @property
    def shown(self) -> Frame:
        """What was let through last."""
        return self._shown

    def foresee(
        self, nodes: Bytes, channels: Bytes, now_s: Sequence[float], seen_s: Sequence[float]
    ) -> list[Frame]:
        """Return what `admit_each` would, as if nothing had been asked; until `keep`, if it comes to that."""
        if not len(nodes):
            self._foreseen = None
            return []
        sequel = Sequel(self._shown, nodes, channels)
        frames, shown = [], self._shown
        for number in range(self.follow(sequel, now_s, seen_s)):
            shown = sequel.frames[number] if sequel.has_changed[number] else shown
            frames.append(shown)
        return frames

    def follow(self, course: Course, now_s: Sequence[float], seen_s: Sequence[float]) -> int:
        """Return how many of these frames may be shown, as if nothing had been asked; until `keep`."""
        lights = course.lights(self._nodes)
        sums, turns = course.sums(self._sums), course.turns(lights)
        steps = steps_of(course, sums, now_s, seen_s)
        fork = self._fork(lights)
        if turns is not None and follow_by_turn(fork, turns, steps, now_s, seen_s):
            admitted = len(course.peaks)
        else:
            fork = fork if turns is None else self._fork(lights)
            admitted = follow_by_frame(fork, course, lights, steps)
        changed = max((number for number, _ in steps if number < admitted), default=NONE_YET)
        sum_of_all = self._sums if changed == NONE_YET else sums[changed]
        self._foreseen = _Foreseen(lights, fork, course, changed, sum_of_all)
        return admitted

    def keep(self) -> None:
        """Take it that all frames foreseen last have been shown."""
        if self._foreseen is None:
            return
        lights, watches, course, changed, self._sums = self._foreseen
        self._nodes.go_on_from(watches.nodes, EVERY, lights)
        self._channels, self._whole = watches.channels, watches.whole
        if changed != NONE_YET:
            is_own = self._shown.nodes is self._own
            self._shown = course.lead(changed, self._shown, is_own=is_own)
            self._own, self._asked, self._highest = self._shown.nodes, None, HIGHEST
        self._foreseen = None

    def _fork(self, lights: Chosen) -> Watches:
        """Return watches that go on from here by themselves: of these lights, the channels and the whole."""
        return Watches(self._nodes.part(lights), self._channels.copy(), self._whole.copy())

    def _sums_of(self, frame: Frame, lights: Chosen, values: Bytes) -> NDArray[np.int64]:
        if isinstance(lights, slice):
            return sums_of(frame.nodes)
        return self._sums + sums_of(values) - sums_of(picked(self._shown.nodes, lights))

    def _highest_of(self, frame: Frame, lights: Chosen, values: Bytes) -> int:
        highest = highest_of(values)
        return highest if highest >= self._highest or isinstance(lights, slice) else highest_of(frame.nodes)

    def go_on_from(
        self, before: "FlashGuard", ours_before: NDArray[np.bool_], ours: NDArray[np.bool_]
    ) -> None:
        """Remember what `before` saw of the nodes marked in both; a change of patch hides no flash."""
        there, here = np.flatnonzero(ours_before), np.flatnonzero(ours)
        self._nodes.go_on_from(before._nodes, there, here)  # noqa: SLF001  another of our own
        self._channels.go_on_from(before._channels, EVERY, EVERY)  # noqa: SLF001
        self.go_on_as_a_whole_from(before)
        self._shown.nodes[here] = before._shown.nodes[there]  # noqa: SLF001
        self._shown.channels[:] = before._shown.channels  # noqa: SLF001
        self._sums, self._highest = sums_of(self._shown.nodes), HIGHEST

    def recall(self, earlier: "FlashGuard", ours: NDArray[np.bool_]) -> None:
        """Remember what an earlier guard of the same patch saw of these nodes, which are dark since."""
        rows = np.flatnonzero(ours)
        self._nodes.go_on_from(earlier._nodes, rows, rows)  # noqa: SLF001
        # When a light falls is of no account: only rises are dated.
        self._nodes.follow(rows, np.zeros((len(rows), COMPONENTS), np.uint8), 1, 0.0)

    def go_on_as_a_whole_from(self, before: "FlashGuard") -> None:
        """Remember what `before` saw of the display as a whole, whose lights are others now."""
        self._whole.go_on_from(before._whole)  # noqa: SLF001


def _is_alike(frame: Frame, shown: Frame) -> bool:
    """Say whether the fixtures' channels are as they are shown."""
    return not len(frame.channels) or np.array_equal(frame.channels, shown.channels)
