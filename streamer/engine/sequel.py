"""Some frames that follow one another: which lights change in which of them, found out for all at once."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from patterns.plain import COMPONENTS, Bytes, Frame
from streamer.display.slots import Indices
from streamer.engine.difference import EVERY, FEW_SHARE, MANY_NODES, NONE, Chosen, picked, words_of
from streamer.engine.flashes import FlashWatch, swing_of

FEW_TURNS = 0.3
"""Of the frames: each turn takes somewhat longer than a frame."""
MOST_SHARE = 0.5
"""Of more lights than this, all are taken: picking them out would take longer."""


class Sequel:
    """Frames to come after the one that is shown, of `nodes` (F, N, 4) in C order and `channels` (F, C)."""

    def __init__(self, shown: Frame, nodes: Bytes, channels: Bytes) -> None:
        self.frames = [Frame(*each) for each in zip(nodes, channels, strict=True)]
        self._shown, self._nodes = shown, nodes
        self._words = nodes.view(np.uint32)[..., 0]
        self._differs = _differs(self._words, words_of(shown.nodes))
        self._changes = [np.count_nonzero(differs) for differs in self._differs]
        alters: list[bool] = np.logical_or.reduce(_differs(channels, shown.channels), axis=1).tolist()
        self.has_changed = [bool(count or alter) for count, alter in zip(self._changes, alters, strict=True)]
        """Whether each frame differs from the one before it."""
        self.peaks = [
            max(each)
            for each in zip(
                nodes.reshape(len(nodes), -1).max(axis=1, initial=0).tolist(),
                channels.max(axis=1, initial=0).tolist(),
                strict=True,
            )
        ]
        """The highest octet of each."""

        self._turns_unchanged = False

    def lights(self, watch: FlashWatch) -> Chosen:
        """Return the lights that any of these frames changes, or that a watch of all has turn in one."""
        changed_to = [peak for peak, has in zip(self.peaks, self.has_changed, strict=True) if has]
        concerned: NDArray[np.bool_] = np.logical_or.reduce(self._differs, axis=0)
        if changed_to:
            # A light that stays as it is turns, too, where the swing falls with the peak of the frame.
            turns = watch.would_turn(self._shown.nodes, swing_of(min(changed_to)))
            self._turns_unchanged = bool(np.count_nonzero(turns))
            concerned |= turns
        return (
            EVERY if np.count_nonzero(concerned) > MOST_SHARE * len(concerned) else np.flatnonzero(concerned)
        )

    def chosen(self, number: int, lights: Chosen) -> Chosen:
        """Return which of these lights are followed to a frame: see `difference.differing_nodes`."""
        changes, count = self._changes[number], self._differs.shape[1]
        if changes and (count < MANY_NODES or changes > FEW_SHARE * count):
            return EVERY
        return np.flatnonzero(picked(self._differs[number], lights)) if changes else NONE

    @property
    def steady_peak(self) -> int:
        """The highest octet of every frame that changes anything, if that is one and the same, else 0.

        0 as well where a light that stays as it is would turn.
        """
        peaks = {peak for peak, has in zip(self.peaks, self.has_changed, strict=True) if has}
        return peaks.pop() if len(peaks) == 1 and not self._turns_unchanged else 0

    def by_turn(self, lights: Chosen) -> Iterator[tuple[Indices, Bytes, Indices]]:
        """Yield the first change of each light, then the second, and so on.

        As (lights, values, frames): which of `lights`, (K,), what they change to, (K, 4), and in which frame,
        (K,).
        """
        differs = self._differs if isinstance(lights, slice) else self._differs[:, lights]
        turn = np.cumsum(differs, axis=0, dtype=np.uint8)
        words = self.values(lights).view(np.uint32)[..., 0]
        for number in range(1, int(turn[-1].max(initial=0)) + 1):
            frames, rows = np.nonzero(differs & (turn == number))
            yield rows, words[frames, rows].view(np.uint8).reshape(-1, COMPONENTS), frames

    def has_few_turns(self, lights: Chosen) -> bool:
        """Whether `by_turn` is quicker than frame by frame, and leads to the same."""
        if not self.steady_peak:
            return False
        differs = self._differs if isinstance(lights, slice) else self._differs[:, lights]
        return (
            int(np.add.reduce(differs, axis=0, dtype=np.uint8).max(initial=0)) <= len(self.frames) * FEW_TURNS
        )

    def values(self, lights: Chosen) -> Bytes:
        """Return what these lights show in each frame, (F, lights, 4)."""
        if isinstance(lights, slice):
            return self._nodes
        return self._words.take(lights, axis=1).view(np.uint8).reshape(len(self.frames), -1, COMPONENTS)

    def more(self, lights: Chosen) -> NDArray[np.int64]:
        """Return by how much the sum of each component is more than that of what is shown, (F, 4)."""
        values = np.concatenate([picked(self._shown.nodes, lights)[None], self.values(lights)])
        # As a product of matrices it takes a thirtieth of the time, and whole numbers of 24 bits are exact.
        sums = (np.ones(values.shape[1], np.float32) @ values.astype(np.float32)).astype(np.int64)
        return np.asarray(sums[1:] - sums[0])


def _differs(values: NDArray[np.generic], first: NDArray[np.generic]) -> NDArray[np.bool_]:
    """Say where each row differs from the one before it, and the first from another."""
    differs = np.empty(values.shape, np.bool_)
    np.not_equal(values[0], first, out=differs[0])
    np.not_equal(values[1:], values[:-1], out=differs[1:])
    return differs
