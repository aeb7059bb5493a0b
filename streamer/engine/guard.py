"""The flash guard: no light flashes more than three times in any second, or fewer, whatever is asked.

WCAG 2.x success criterion 2.3.1 allows no more than three general flashes in any one second, a flash being
a pair of opposing changes of a tenth of the maximum. That maximum is a screen's; a light has none, and blue
and dim red would slip under it, so every rise of any component by a tenth of the brightest value in the
frame counts. Each light is watched, and the display as a whole, so that neither one string nor many in
turn can flash. Time is an argument.
"""

from collections.abc import Sequence
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from patterns.plain import COMPONENTS, Bytes, Frame
from streamer.engine.course_in_short import CourseInShort
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
from streamer.engine.flashes import FlashWatch
from streamer.engine.following import Step, Watches, follow, follow_by_frame, follow_by_turn, steps_of
from streamer.engine.sequel import Sequel
from streamer.engine.total_watch import TotalWatch
from streamer.engine.totals import Totals, highest_of, sums_of
from streamer.flash_rule import FLASHES_PER_S

HIGHEST = 255


class _Foreseen(NamedTuple):
    """Where some frames to come lead."""

    lights: Chosen
    """Those that any of them concerns."""
    watches: Watches
    """Of these lights, the channels and the whole, as they will be."""
    shown: Frame
    sums: NDArray[np.int64]


class _Followed(NamedTuple):
    """How far frames to come have been followed in short, and how it was before."""

    course: CourseInShort
    frames: int
    before: Watches
    """Those of the channels and the whole; that of the nodes keeps a log."""


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
        self._followed: _Followed | None = None
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
        is_same = isinstance(lights, np.ndarray) and not len(lights)
        if is_same and frame.channels.tobytes() == self._shown.channels.tobytes():
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
        highest = highest_of(values)
        if isinstance(lights, slice):
            return Totals(sums_of(values), highest)
        sums = self._sums + sums_of(values) - sums_of(picked(self._shown.nodes, lights))
        return Totals(sums, highest if highest >= self._highest else highest_of(frame.nodes))

    @property
    def shown(self) -> Frame:
        """What was let through last."""
        return self._shown

    def foresee(
        self, nodes: Bytes, channels: Bytes, now_s: Sequence[float], seen_s: Sequence[float]
    ) -> list[Frame]:
        """Return what `admit_each` would, as if nothing had been asked; until `keep`, if it comes to that."""
        self._foreseen = None
        if not len(nodes):
            return []
        sequel = Sequel(self._shown, nodes, channels)
        lights = sequel.lights(self._nodes)
        sums, turns = sequel.sums(self._sums), sequel.turns(lights)
        steps, fork = steps_of(sequel, sums, now_s, seen_s), self._fork(lights)
        if turns is not None and follow_by_turn(fork, turns, steps, now_s, seen_s):
            held = None
        else:
            fork = fork if turns is None else self._fork(lights)
            held = follow_by_frame(fork, steps, partial(sequel.at, lights))
        frames, newest = [], (self._shown, self._sums)
        for number in range(len(nodes) if held is None else held):
            if sequel.has_changed[number]:
                newest = sequel.frames[number], sums[number]
            frames.append(newest[0])
        self._foreseen = _Foreseen(lights, fork, *newest)
        return frames

    def follow(self, course: CourseInShort, now_s: Sequence[float], seen_s: Sequence[float]) -> int:
        """Follow frames to come, known in short, up to the first that may not be shown; return how many.

        Until that is kept or taken back, nothing else is asked.
        """
        self._foreseen = None
        before = Watches(self._nodes, self._channels.copy(), self._whole.copy())
        self._nodes.keep_log()
        steps = steps_of(course, course.sums, now_s, seen_s)
        held = follow_by_frame(Watches(self._nodes, self._channels, self._whole), steps, course.at)
        self._followed = _Followed(course, len(course.peaks) if held is None else held, before)
        return self._followed.frames

    def take_back(self) -> None:
        """Take it that none of the frames followed last has been shown."""
        if self._followed:
            self._nodes.take_back()
            _, self._channels, self._whole = self._followed.before
            self._followed = None

    def keep(self) -> None:
        """Take it that all frames foreseen or followed last have been shown."""
        if self._foreseen:
            lights, watches, shown, self._sums = self._foreseen
            self._nodes.go_on_from(watches.nodes, EVERY, lights)
            self._channels, self._whole = watches.channels, watches.whole
            if shown is not self._shown:
                self._shown, self._asked, self._highest = shown, None, HIGHEST
            self._foreseen = None
        if self._followed:
            self._nodes.drop_log()
            self._go_on_to(self._followed.course, self._followed.frames)
            self._followed = None

    def _go_on_to(self, course: CourseInShort, frames: int) -> None:
        """Take the last of so many frames for what is shown."""
        if not any(course.has_changed[:frames]):
            return
        if self._shown.nodes is not self._own:
            self._own = self._shown.nodes.copy()
        course.write(frames, self._own)
        self._shown, self._asked = Frame(self._own, self._shown.channels), None
        self._sums, self._highest = course.sums[frames - 1], course.peaks[frames - 1]

    def _fork(self, lights: Chosen) -> Watches:
        """Return watches that go on from here by themselves: of these lights, the channels and the whole."""
        return Watches(self._nodes.part(lights), self._channels.copy(), self._whole.copy())

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
