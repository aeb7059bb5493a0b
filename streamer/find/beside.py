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
from streamer.find.hypotheses import Columns

Flags = NDArray[np.bool_]
AROUND = (-1, 0, 1)
"""An odd light decides for itself and for the lights beside it whether they stand out."""


class Beside:
    """One picture under H hypotheses, B wirings, M lights. Places count as the data runs."""

    def __init__(
        self,
        columns: Columns,
        seen: Bytes,
        sent: frozenset[int],
        ends: tuple[Indices, Indices],
        colour: Callable[[Indices], Bytes],
    ) -> None:
        """Take what wirings show without an odd light, (B, M), and the colours sent, as answers.

        `ends` are the first and the last lit light, (H,); `colour` finds what a light of each shows, (H,).
        """
        self._columns, self._colour = columns, colour
        self._first, self._last = ends
        self._is_sent = np.isin(np.arange(ANSWERS), list(sent))
        self._lights = seen.shape[1]
        self._usual = np.zeros(seen.shape, np.bool_)
        self._usual[:, 1:-1] = self._stands_out(seen[:, :-2], seen[:, 1:-1], seen[:, 2:])

    def _stands_out(self, before: Bytes, it: Bytes, after: Bytes) -> Flags:
        found: Flags = (it != before) & (it != after) & ((before == after) | ~self._is_sent[it])
        return found

    def answers(self) -> Bytes:
        """Return the colour beside the only one, NONE for none, UNSTEADY for several, (H,)."""
        count, place = self._inside()
        for end, inner in ((self._first, self._first + 1), (self._last, self._last - 1)):
            here = (self._first < self._last) & (self._colour(end) != self._colour(inner))
            count, place = count + here, np.where(here, end, place)
        step = np.where(self._columns.is_flipped, 1, -1)
        neighbour = place + step
        outside = (neighbour < self._first) | (neighbour > self._last)
        colour = self._colour(np.where(outside, place - step, neighbour))
        several = (count > 1) | (self._last >= self._columns.unsteady_from)
        found = np.where(several, Answer.UNSTEADY, np.where(count == 1, colour, Answer.NONE))
        return found.astype(np.uint8)

    def _inside(self) -> tuple[Indices, Indices]:
        """Return how many stand out between the ends, and where one does, (H,) each."""
        wiring, at = self._columns.wiring, self._columns.at
        upto = np.zeros((len(self._usual), self._lights + 1), np.int32)
        np.cumsum(self._usual, axis=1, out=upto[:, 1:])
        inner = np.minimum(self._first + 1, self._last)
        count = upto[wiring, self._last] - upto[wiring, inner]
        next_one = self._next_usual()
        place = next_one[wiring, inner]
        around = (at >= 0) & (abs(place - at) <= 1)
        place = np.where(around, next_one[wiring, np.clip(at + 2, 0, self._lights)], place)
        for away in AROUND:
            here = at + away
            inside = (at >= 0) & (here > self._first) & (here < self._last)
            now = self._stands_out(self._colour(here - 1), self._colour(here), self._colour(here + 1))
            usual = self._usual[wiring, np.clip(here, 0, self._lights - 1)]
            count = count + np.where(inside, now.astype(np.intp) - usual, 0)
            place = np.where(inside & now, here, place)
        return count, place

    def _next_usual(self) -> Indices:
        """Return (B, M + 1): the first light from each place on that stands out, M for none."""
        places = np.where(self._usual, np.arange(self._lights), self._lights)
        found = np.full((len(places), self._lights + 1), self._lights)
        found[:, :-1] = np.minimum.accumulate(places[:, ::-1], axis=1)[:, ::-1]
        return found
