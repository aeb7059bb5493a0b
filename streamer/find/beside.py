"""The one light that stands out, as people see it, and the colour of the light beside it.

It stands out if it is like neither light beside it, and those two are alike or it has a colour that none was
sent; at an end, if it is not like the one beside it. So a red light among yellow ones does, wherever else red
is sent; the edge between two blocks does not.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Bytes
from streamer.display.slots import Indices
from streamer.find.answers import ANSWERS, Answer
from streamer.find.columns import Columns

Flags = NDArray[np.bool_]
NONE, UNSTEADY = np.uint8(Answer.NONE), np.uint8(Answer.UNSTEADY)
AROUND = np.arange(-1, 2)
"""An odd light decides for itself and for the lights beside it whether they stand out."""
NEAR = np.arange(-2, 3)
"""The lights that this depends on."""
End = tuple[Indices, Bytes]
"""The last lit light at one end, (H,), and its colour; any place where all is dark."""


class Beside:
    """One picture under H hypotheses, B wirings, M lights; K hypotheses have an odd one."""

    def __init__(
        self,
        columns: Columns,
        seen: Bytes,
        sent: frozenset[int],
        ends: tuple[End, End],
        colours: Callable[[Indices], Bytes],
    ) -> None:
        """Take what wirings show without an odd light, (B, M), and the colours sent, as answers.

        `ends` are the nearest and the furthest as the data runs; `colours` finds what a light of each
        hypothesis shows, (H,).
        """
        self._columns, self._colours = columns, colours
        self._ends = ends
        self._first = np.minimum(ends[0][0], columns.lights - 1)
        self._last = np.maximum(ends[1][0], 0)
        self._is_sent = np.isin(np.arange(ANSWERS), list(sent))
        self._usual = np.zeros(seen.shape, np.bool_)
        self._usual[:, 1:-1] = self._stands_out(seen[:, :-2], seen[:, 1:-1], seen[:, 2:])

    def _stands_out(self, before: Bytes, it: Bytes, after: Bytes) -> Flags:
        found: Flags = (it != before) & (it != after) & ((before == after) | ~self._is_sent.take(it))
        return found

    def answers(self, colours_around_odd: Callable[[Indices], Bytes]) -> Bytes:
        """Return the colour beside the only one, NONE for none, UNSTEADY for several, (H,).

        What is asked of is what lights so far from the odd one show, (n, K).
        """
        count, place = self._inside(colours_around_odd(NEAR))
        first, last = self._first, self._last
        for end, inner, colour in (
            (first, first + 1, self._ends[0][1]),
            (last, last - 1, self._ends[1][1]),
        ):
            here = (first < last) & (colour != self._colours(inner))
            count, place = count + here, np.where(here, end, place)
        step = np.where(self._columns.is_flipped, 1, -1)
        neighbour = place + step
        outside = (neighbour < first) | (neighbour > last)
        colour = self._colours(np.where(outside, place - step, neighbour))
        several = (count > 1) | (last >= self._columns.unsteady_from)
        return np.where(several, UNSTEADY, np.where(count == 1, colour, NONE))

    def _inside(self, near: Bytes) -> tuple[Indices, Indices]:
        """Return how many stand out between the ends, and where one does, (H,) each."""
        columns = self._columns
        gaps, last = columns.start_of_gaps, self._last
        upto = np.zeros((len(self._usual), columns.lights + 1), np.int32)
        np.cumsum(self._usual, axis=1, out=upto[:, 1:])
        inner = np.minimum(self._first + 1, last)
        count = upto.take(gaps + last) - upto.take(gaps + inner)
        next_one = self._next_usual()
        place = next_one.take(gaps + inner)
        odd = columns.odd
        count[odd], place[odd] = self._around_odd(near, next_one, count[odd], place[odd])
        return count, place

    def _around_odd(
        self, near: Bytes, next_one: Indices, count: Indices, place: Indices
    ) -> tuple[Indices, Indices]:
        """Return the same where a light is odd, (K,) each, given what stood out without it."""
        columns, odd = self._columns, self._columns.odd
        at, lights = columns.at[odd], columns.lights
        beyond = np.minimum(at + len(AROUND) - 1, lights)
        place = np.where(abs(place - at) <= 1, next_one.take(columns.start_of_gaps[odd] + beyond), place)
        here = at + AROUND[:, None]
        inside = (here > self._first[odd]) & (here < self._last[odd])
        now = inside & self._stands_out(near[:-2], near[1:-1], near[2:])
        usual = inside & self._usual.take(columns.start[odd] + np.clip(here, 0, lights - 1))
        for stands_out, where in zip(now, here, strict=True):
            place = np.where(stands_out, where, place)
        return count + now.sum(axis=0) - usual.sum(axis=0), place

    def _next_usual(self) -> Indices:
        """Return (B, M + 1): the first light from each place on that stands out, M for none."""
        lights = self._columns.lights
        places = np.where(self._usual, np.arange(lights), lights)
        found = np.full((len(places), lights + 1), lights)
        np.minimum.accumulate(places[:, ::-1], axis=1, out=found[:, -2::-1])
        return found
