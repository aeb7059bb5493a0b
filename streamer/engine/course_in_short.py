"""Some frames that follow one another, known by their changes alone: for large displays nothing is drawn."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Bytes
from streamer.display.slots import Indices
from streamer.engine.changes import Changes, Words, octets_of
from streamer.engine.difference import words_of
from streamer.engine.strides import Stride
from streamer.engine.totals import Totals


class CourseInShort:
    """Frames to come after the one that is shown; no fixture channel is lit in any of them, nor in that."""

    def __init__(
        self, lights_in_all: int, channels: int, strides: Sequence[Stride], totals: Sequence[Totals]
    ) -> None:
        self._strides, self._totals = strides, totals
        self._channels = channels
        self.sums: NDArray[np.int64] = np.stack([each.sums for each in totals])
        """Of each component in each frame, (F, 4)."""
        self.lights_in_all = lights_in_all
        counts = [len(stride.lights) for stride in strides]
        self.has_changed = [count > 0 for count in counts]
        self.peaks = [each.highest for each in totals]
        self.channels = [np.zeros(channels, np.uint8)] * len(strides)
        self._ends: Indices = np.cumsum(counts)
        """Up to which change each frame goes."""
        self.changes = Changes(
            np.concatenate([stride.lights for stride in strides]),
            np.repeat(np.arange(len(strides)), counts),
            np.concatenate([stride.before for stride in strides]),
            np.concatenate([stride.after for stride in strides]),
        )

    def until(self, frames: int) -> "CourseInShort":
        """Return the first of these frames alone."""
        if frames == len(self._strides):
            return self
        strides, totals = self._strides[:frames], self._totals[:frames]
        return CourseInShort(self.lights_in_all, self._channels, strides, totals)

    def altered(self, number: int) -> tuple[Indices, Words]:
        """Return which lights a frame changes, and what to."""
        return self._strides[number].lights, self._strides[number].after

    def at(self, number: int) -> tuple[Indices, Bytes]:
        """Return the lights that a frame changes, and what they show in it."""
        stride = self._strides[number]
        return stride.lights, octets_of(stride.after)

    def write(self, frames: int, nodes: Bytes) -> None:
        """Let nodes, (N, 4), be as they are with the last of so many frames; before, they are as shown."""
        end = self._ends[frames - 1] if frames else 0
        # Of what is written to one light more than once, the last stays.
        words_of(nodes)[self.changes.lights[:end]] = self.changes.after[:end]
