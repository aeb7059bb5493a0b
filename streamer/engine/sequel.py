"""Some frames that follow one another: which lights change in which of them, found out for all at once."""

import numpy as np
from numpy.typing import NDArray

from patterns.plain import COMPONENTS, Bytes, Frame
from streamer.display.slots import Indices
from streamer.engine.changes import Changes, Turn, steady
from streamer.engine.difference import EVERY, FEW_SHARE, MANY_NODES, NONE, Chosen, picked, words_of
from streamer.engine.flashes import FlashWatch, swing_of

FEW_TURNS = 0.3
"""Of the frames: each turn takes somewhat longer than a frame."""
MOST_SHARE = 0.5
"""Of more lights than this, all are taken: picking them out would take longer."""


class Sequel:
    """Frames to come after the one that is shown, of `nodes` (F, N, 4) in C order and `channels` (F, C).

    Each call of NumPy counts here: with cold caches it takes longer than what it does to small displays.
    """

    def __init__(self, shown: Frame, nodes: Bytes, channels: Bytes) -> None:
        self.frames = list(map(Frame, nodes, channels))
        self._shown, self._nodes = shown, nodes
        self._words = nodes.view(np.uint32)[..., 0]
        self._differs = _differs(self._words, words_of(shown.nodes))
        is_few = np.count_nonzero(self._differs) <= FEW_TURNS * self._differs.size
        self._changes = self._listed() if is_few else None
        """None where there are many."""
        self._counts = self._counted()
        """How many lights each frame changes, (F,)."""
        self.has_changed = [count > 0 for count in self._counts.tolist()]
        """Whether each frame differs from the one before it."""
        self.peaks: list[int] = nodes.reshape(len(nodes), -1).max(axis=1, initial=0).tolist()
        """The highest octet of each."""
        if channels.size:
            self._take_in(channels)
        self.channels: list[Bytes] = [frame.channels for frame in self.frames]
        self.lights_in_all = self._differs.shape[1]
        self._turns_unchanged = False
        self._values: tuple[Chosen, Bytes] | None = None
        """What some lights show in each frame, asked for frame after frame."""

    def _take_in(self, channels: Bytes) -> None:
        """Let changes and peaks be those of channels as well."""
        alters: list[bool] = np.logical_or.reduce(_differs(channels, self._shown.channels), axis=1).tolist()
        self.has_changed = [has or alter for has, alter in zip(self.has_changed, alters, strict=True)]
        self.peaks = list(map(max, self.peaks, channels.max(axis=1).tolist()))

    def _listed(self) -> Changes:
        lights, words = self._differs.shape[1], self._words.reshape(-1)
        (at,) = self._differs.reshape(-1).nonzero()
        frames = at // lights
        in_first = frames.searchsorted(1)
        before = words_of(self._shown.nodes).take(at[:in_first]), words.take(at[in_first:] - lights)
        return Changes(at - frames * lights, frames, np.concatenate(before), words.take(at))

    def _counted(self) -> Indices:
        if self._changes:
            return np.bincount(self._changes.frames, minlength=len(self.frames))
        return np.array([np.count_nonzero(differs) for differs in self._differs], np.intp)

    def lights(self, watch: FlashWatch) -> Chosen:
        """Return the lights that any of these frames changes, or that a watch of all has turn in one."""
        concerned = self._concerned()
        if any(self.has_changed):
            changed_to = min(peak for peak, has in zip(self.peaks, self.has_changed, strict=True) if has)
            # A light that stays as it is turns, too, where the swing falls with the peak of the frame.
            turns = watch.would_turn(self._shown.nodes, swing_of(changed_to))
            self._turns_unchanged = bool(np.count_nonzero(turns))
            concerned |= turns
        if np.count_nonzero(concerned) > MOST_SHARE * len(concerned):
            return EVERY
        return concerned.nonzero()[0]

    def _concerned(self) -> NDArray[np.bool_]:
        """Say of each light whether any of these frames changes it."""
        if self._changes is None:
            changed: NDArray[np.bool_] = np.logical_or.reduce(self._differs, axis=0)
            return changed
        changed = np.zeros(self.lights_in_all, np.bool_)
        changed[self._changes.lights] = True
        return changed

    def at(self, lights: Chosen, number: int) -> tuple[Chosen, Bytes]:
        """Return which of these lights are followed to a frame, and what they show: see `differing_nodes`."""
        if self._values is None or self._values[0] is not lights:
            self._values = lights, self._shown_by(lights)
        chosen = self._chosen(number, lights)
        return chosen, picked(self._values[1][number], chosen)

    def _chosen(self, number: int, lights: Chosen) -> Chosen:
        changes, count = self._counts[number], self.lights_in_all
        if changes and (count < MANY_NODES or changes > FEW_SHARE * count):
            return EVERY
        return np.flatnonzero(picked(self._differs[number], lights)) if changes else NONE

    def _shown_by(self, lights: Chosen) -> Bytes:
        """Return what these lights show in each frame, (F, lights, 4)."""
        if isinstance(lights, slice):
            return self._nodes
        words = self._words.take(lights, axis=1)
        return words.view(np.uint8).reshape(len(self.frames), -1, COMPONENTS)

    @property
    def steady_peak(self) -> int:
        """The highest octet of every frame that changes anything, if that is one and the same, else 0.

        0 as well where a light that stays as it is would turn.
        """
        return 0 if self._turns_unchanged else steady(self.peaks, self.has_changed)

    def turns(self, lights: Chosen) -> list[Turn] | None:
        """Return the first change of each of these lights, then the second, and so on.

        None where to go by frames is quicker, or turns would lead elsewhere.
        """
        if self._changes is None or not self.steady_peak:
            return None
        among = self.lights_in_all if isinstance(lights, slice) else len(lights)
        return self._changes.by_light().turns(lights, among, FEW_TURNS * len(self.frames))

    def sums(self, shown: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return the sum of each component in each frame, (F, 4), given what is shown now comes to."""
        if self._changes is not None:
            return shown + self._changes.more(self._counts)
        values = np.concatenate([self._shown.nodes[None], self._nodes])
        # As a product of matrices: a thirtieth of the time, and whole numbers of 24 bits are exact.
        sums = (np.ones(values.shape[1], np.float32) @ values.astype(np.float32)).astype(np.int64)
        return np.asarray(shown + (sums[1:] - sums[0]))


def _differs(values: NDArray[np.generic], first: NDArray[np.generic]) -> NDArray[np.bool_]:
    """Say where each row differs from the one before it, and the first from another."""
    differs = np.empty(values.shape, np.bool_)
    np.not_equal(values[0], first, out=differs[0])
    np.not_equal(values[1:], values[:-1], out=differs[1:])
    return differs
