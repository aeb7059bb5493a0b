"""What changes in some frames that follow one another: which lights, in which of them, from what to what."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from patterns.plain import COMPONENTS, Bytes
from streamer.display.slots import Indices
from streamer.engine.difference import EVERY, Chosen

Words = NDArray[np.uint32]
"""The four octets of each of some lights as one number."""


class Turn(NamedTuple):
    """One change each of some lights, K of them."""

    rows: Chosen
    """The lights, among those that were asked about."""
    values: Bytes
    """What they change to, (K, 4)."""
    frames: Indices
    """In which frames, (K,)."""


class Changes(NamedTuple):
    """All changes of single lights, frame after frame: (K,) each."""

    lights: Indices
    frames: Indices
    before: Words
    after: Words

    def by_light(self) -> "ByLight":
        """Return the same, light after light."""
        order = self.lights.argsort(kind="stable")
        of_light = self.lights.take(order)
        firsts = _firsts(of_light)
        return ByLight(of_light.take(firsts), firsts, self.frames.take(order), self.after.take(order))

    def more(self, counts: Indices) -> NDArray[np.int64]:
        """Return by how much the sum of each component is more than before all of them, (F, 4).

        `counts` says how many of the changes are each frame's, (F,).
        """
        mores = np.zeros((1 + len(self.lights), COMPONENTS), np.int64)
        np.subtract(octets_of(self.after), octets_of(self.before), out=mores[1:], dtype=np.int64)
        return mores.cumsum(axis=0).take(counts.cumsum(), axis=0)


class ByLight(NamedTuple):
    """Changes light after light, and those of each in turn."""

    lights: Indices
    """(L,): each once, rising."""
    firsts: Indices
    """(L,): where each of them begins in the others."""
    frames: Indices
    after: Words

    def turns(self, among: Chosen, count: int, most: float) -> list[Turn] | None:
        """Return the first change of each light, then the second, and so on; None if one has over `most`.

        Rows are those among the `count` lights of `among`: every light, or those that change, rising.
        """
        counts = np.append(self.firsts[1:], len(self.frames)) - self.firsts
        most_of_one = int(counts.max(initial=0))
        if most_of_one > most:
            return None
        rows = self.lights if isinstance(among, slice) else np.arange(len(self.lights))
        turns = []
        for number in range(most_of_one):
            (has,) = (counts > number).nonzero()
            at = self.firsts.take(has) + number
            chosen = EVERY if len(has) == count else rows.take(has)
            turns.append(Turn(chosen, octets_of(self.after.take(at)), self.frames.take(at)))
        return turns


def octets_of(words: Words) -> Bytes:
    """View each number as the four octets of a light, (K, 4)."""
    return words.view(np.uint8).reshape(-1, COMPONENTS)


def steady(peaks: Sequence[int], has_changed: Sequence[bool]) -> int:
    """Return the highest octet of every frame that changes anything, if that is one and the same, else 0."""
    different = {peak for peak, has in zip(peaks, has_changed, strict=True) if has}
    return different.pop() if len(different) == 1 else 0


def _firsts(of_light: Indices) -> Indices:
    """Return where each light comes first, of sorted ones."""
    is_first = np.ones(len(of_light), np.bool_)
    np.not_equal(of_light[1:], of_light[:-1], out=is_first[1:])
    return is_first.nonzero()[0]
