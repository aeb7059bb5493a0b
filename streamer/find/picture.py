"""One still picture: what is sent to every slot, and what this string shows of it if all is as planned."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from patterns.plain import COMPONENTS, Bytes
from streamer.display.slots import Indices
from streamer.find.answers import DARK_CODE

BUSY = 14
"""More changes of colour than this along a string are a jumble (common practice, no source)."""
ELSEWHERE = "other strings may light too"
FINE = 3
"""Blocks of fewer lights than this are hard to see from afar (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Picture:
    """`slots` is (canvas size + 1,) of 0 or 1; `codes` (M,), as the data runs, what the string is sent."""

    slots: Bytes
    codes: Bytes
    elsewhere: str = ""
    """What else is lit, in words."""
    is_whole: bool = False
    """Whether every planned light is lit, so that an odd one can be seen."""
    is_beside: bool = False
    """Whether the string beside is lit."""

    @cached_property
    def name(self) -> bytes:
        """What tells two pictures apart."""
        return self.slots.tobytes()

    @property
    def sent(self) -> frozenset[int]:
        """The codes of light that the string is sent."""
        return frozenset(self.codes.tolist()) - {DARK_CODE}

    @cached_property
    def finest(self) -> int:
        """How many lights the narrowest block between two others has; FINE where none is narrower."""
        edges = np.flatnonzero(np.diff(self.codes))
        return int(np.diff(edges).min(initial=FINE))

    @cached_property
    def is_busy(self) -> bool:
        """Whether the colours change so often that it is a jumble from afar."""
        return int(np.count_nonzero(np.diff(self.codes))) > BUSY


class Painter:
    """Paints lights as one wiring or another would show them."""

    def __init__(self, size: int, planned: Indices) -> None:
        self._size = size
        self._planned = planned
        """(4, M): where each light takes its colours from, those past the plan included."""
        self.lights = planned.shape[1]

    def blank(self) -> Bytes:
        """Return slots that are all dark."""
        return np.zeros(self._size + 1, np.uint8)

    def paint(self, slots: Bytes, taken: Indices, codes: Bytes) -> None:
        """Send each light, which `taken` (4, M) finds, the colours of its code, (M,); none to dark ones."""
        lit = codes != DARK_CODE
        for light in range(COMPONENTS):
            slots[taken[light, lit]] = codes[lit] >> light & 1
        slots[self._size] = 0

    def planned(self, codes: Bytes, **about: object) -> Picture:
        """Return the picture of these codes, (M,), on the string as planned, all else dark."""
        slots = self.blank()
        self.paint(slots, self._planned, codes)
        return Picture(slots, codes, **about)  # type: ignore[arg-type]  # its own fields

    def through(self, taken: Indices, codes: Bytes) -> Picture:
        """Return the picture that a string wired as `taken` shows as these codes, all else dark."""
        slots = self.blank()
        self.paint(slots, taken, codes)
        beyond = slots.copy()
        beyond[self._planned] = 0
        elsewhere = ELSEWHERE if beyond.any() else ""
        return Picture(slots, self.seen_as_planned(slots), elsewhere)

    def seen_as_planned(self, slots: Bytes) -> Bytes:
        """Return the code that each light of the planned string is sent."""
        lit = slots[self._planned]
        return np.asarray((lit << np.arange(COMPONENTS, dtype=np.uint8)[:, None]).sum(axis=0, dtype=np.uint8))
