"""Some frames that follow one another, known by their changes alone: for large displays nothing is drawn."""

from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Bytes, Frame
from streamer.display.slots import Indices
from streamer.engine.changes import ByLight, Changes, Turn, Words, octets_of, steady
from streamer.engine.difference import Chosen, words_of
from streamer.engine.flashes import FlashWatch
from streamer.engine.strides import Stride
from streamer.engine.totals import Totals

FEW_TURNS = 0.3
"""Of the frames: each turn takes somewhat longer than a frame."""


class CourseInShort:
    """Frames to come after the one that is shown; no fixture channel is lit in any of them, nor in that."""

    def __init__(self, shown: Frame, strides: Sequence[Stride], totals: Sequence[Totals]) -> None:
        self._strides, self._totals = strides, totals
        self._no_channels = shown.channels
        self.lights_in_all = len(shown.nodes)
        counts = [len(stride.lights) for stride in strides]
        self.has_changed = [count > 0 for count in counts]
        self.peaks = [each.highest for each in totals]
        self.channels = [shown.channels] * len(strides)
        self._ends: Indices = np.cumsum(counts)
        """Up to which change each frame goes."""
        self.changes = Changes(
            np.concatenate([stride.lights for stride in strides]),
            np.repeat(np.arange(len(strides)), counts),
            np.concatenate([stride.before for stride in strides]),
            np.concatenate([stride.after for stride in strides]),
        )

    @cached_property
    def _by_light(self) -> ByLight:
        return self.changes.by_light()

    def until(self, frames: int) -> "CourseInShort":
        """Return the first of these frames alone."""
        if frames == len(self._strides):
            return self
        shown = Frame(np.empty((self.lights_in_all, 0), np.uint8), self._no_channels)
        return CourseInShort(shown, self._strides[:frames], self._totals[:frames])

    def altered(self, number: int) -> tuple[Indices, Words]:
        """Return which lights a frame changes, and what to."""
        return self._strides[number].lights, self._strides[number].after

    def lights(self, watch: FlashWatch) -> Indices:  # noqa: ARG002  of every course
        """Return the lights that any of these frames changes, rising."""
        return self._by_light.lights

    def at(self, number: int, lights: Chosen) -> tuple[Indices, Bytes]:
        """Return where among these lights those are that a frame changes, and what they show in it."""
        stride = self._strides[number]
        rows = stride.lights if isinstance(lights, slice) else lights.searchsorted(stride.lights)
        return rows, octets_of(stride.after)

    def lead(self, number: int, shown: Frame, *, is_own: bool) -> Frame:
        """Return the frame of that number, made of what is shown: in its place, or in a copy."""
        nodes = shown.nodes if is_own else shown.nodes.copy()
        end = self._ends[number]
        # Of what is written to one light more than once, the last stays.
        words_of(nodes)[self.changes.lights[:end]] = self.changes.after[:end]
        return Frame(nodes, self._no_channels)

    @property
    def steady_peak(self) -> int:
        """The highest octet of every frame that changes anything, if that is one and the same, else 0."""
        return steady(self.peaks, self.has_changed)

    def turns(self, lights: Chosen) -> list[Turn] | None:
        """Return the first change of each light, then the second, and so on, if that is quicker."""
        if not self.steady_peak:
            return None
        count = self.lights_in_all if isinstance(lights, slice) else len(lights)
        return self._by_light.turns(lights, count, FEW_TURNS * len(self.peaks))

    def sums(self, shown: NDArray[np.int64]) -> NDArray[np.int64]:  # noqa: ARG002  of every course
        """Return the sum of each component in each frame, (F, 4)."""
        return np.stack([each.sums for each in self._totals])
