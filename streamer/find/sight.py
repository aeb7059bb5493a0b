"""What would be seen of one picture under every hypothesis, and so what would be answered.

Tables over wirings are made once a picture; every hypothesis then looks its answer up in them. All is in what
is answered, not in what is sent: a light's colour as these eyes call it, NONE for a dark one.
"""

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from patterns.plain import COMPONENTS, Bytes
from streamer.display.slots import Indices
from streamer.find.answers import NO, YES, Answer, Eyes
from streamer.find.beside import Beside
from streamer.find.columns import Columns
from streamer.find.matching import matches
from streamer.find.questions import Asks

Lit = NDArray[np.bool_]
Places = NDArray[np.int32]
NONE, UNSTEADY = np.uint8(Answer.NONE), np.uint8(Answer.UNSTEADY)
YES_OCTET, NO_OCTET = np.uint8(YES), np.uint8(NO)


class Sight:
    """One picture, `slots` (canvas size + 1,) of 0 or 1, as seen under H hypotheses, B wirings, M lights.

    K of the hypotheses have an odd light. Places count as the data runs.
    """

    def __init__(
        self,
        columns: Columns,
        eyes: Eyes,
        slots: Bytes,
        sent_codes: frozenset[int],
        *,
        planned_reversed: bool,
    ) -> None:
        self._columns, self._eyes = columns, eyes
        self._slots = slots
        codes = _codes(slots, columns.taken)
        self._seen = eyes.seen.take(codes)
        """(B, M): what wirings show without an odd light."""
        self._sent = sent_codes
        self._planned_reversed = planned_reversed
        odd = columns.odd
        self._odd_at = columns.at[odd]
        before = codes.take(columns.start[odd] + self._odd_at)
        self._odd = eyes.seen.take((before & columns.keep[odd]) | columns.add[odd])
        """(K,): what the odd light shows."""

    def answers(self, asks: Asks) -> Bytes:
        """Return the answer to a question under each hypothesis, (H,)."""
        found = getattr(self, f"_{asks.value}")()
        return np.asarray(found, np.uint8)

    @cached_property
    def _before(self) -> Places:
        """(B, M + 1): the last lit light before each place, -1 for none."""
        lights = self._columns.lights
        found = np.full((len(self._seen), lights + 1), -1, np.int32)
        places = np.where(self._seen != NONE, np.arange(lights, dtype=np.int32), np.int32(-1))
        np.maximum.accumulate(places, axis=1, out=found[:, 1:])
        return found

    @cached_property
    def _after(self) -> Places:
        """(B, M + 1): the first lit light from each place on, M for none."""
        lights = self._columns.lights
        found = np.full((len(self._seen), lights + 1), lights, np.int32)
        places = np.where(self._seen != NONE, np.arange(lights, dtype=np.int32), np.int32(lights))
        np.minimum.accumulate(places[:, ::-1], axis=1, out=found[:, -2::-1])
        return found

    @cached_property
    def _nearest(self) -> Indices:
        """The first lit light as the data runs, (H,); M for none."""
        columns, odd, at = self._columns, self._columns.odd, self._odd_at
        first = self._after.take(columns.start_of_gaps).astype(np.intp)
        mine = first[odd]
        beyond = self._after.take(columns.start_of_gaps[odd] + at + 1)
        first[odd] = np.where(self._odd != NONE, np.minimum(mine, at), np.where(mine == at, beyond, mine))
        return np.where(first < columns.reach, first, columns.lights)

    @cached_property
    def _furthest(self) -> Indices:
        """The last lit light as the data runs, (H,); -1 for none."""
        columns, odd, at = self._columns, self._columns.odd, self._odd_at
        last = self._before.take(columns.start_of_gaps + columns.reach).astype(np.intp)
        mine = last[odd]
        before = self._before.take(columns.start_of_gaps[odd] + at)
        last[odd] = np.where(self._odd != NONE, np.maximum(mine, at), np.where(mine == at, before, mine))
        return last

    @cached_property
    def _is_dark(self) -> Lit:
        return self._furthest < 0

    def _colours(self, places: Indices) -> Bytes:
        """Return what is answered for the colour of a light under each hypothesis, (H,)."""
        columns, odd = self._columns, self._columns.odd
        found = self._with_data(places, columns.start, columns.reach)
        found[odd] = np.where(places[odd] == self._odd_at, self._odd, found[odd])
        unsteady = columns.unsteady
        lit = found[unsteady]
        flickers = (lit != NONE) & (places[unsteady] >= columns.unsteady_from[unsteady])
        found[unsteady] = np.where(flickers, UNSTEADY, lit)
        return found

    def _with_data(self, places: Indices, start: Indices, reach: Indices) -> Bytes:
        """Return what lights show that are not odd, NONE outside the lights that get data."""
        found = self._seen.take(start + places, mode="clip")
        return np.where((places >= 0) & (places < reach), found, NONE)

    def colours_around_odd(self, away: Indices) -> Bytes:
        """Return what lights so far from the odd one show, (len(away), K)."""
        columns, odd = self._columns, self._columns.odd
        places = self._odd_at + away[:, None]
        found = self._with_data(places, columns.start[odd], columns.reach[odd])
        found[away == 0] = self._odd
        return found

    @cached_property
    def _nearest_colour(self) -> Bytes:
        return self._colours(self._nearest)

    @cached_property
    def _furthest_colour(self) -> Bytes:
        return self._colours(self._furthest)

    def _first(self) -> Bytes:
        return np.where(self._columns.is_flipped, self._furthest_colour, self._nearest_colour)

    def _last(self) -> Bytes:
        return np.where(self._columns.is_flipped, self._nearest_colour, self._furthest_colour)

    def _head(self) -> Bytes:
        return self._colours(self._columns.head)

    def _tail(self) -> Bytes:
        return self._colours(self._columns.tail)

    @property
    def _turned(self) -> Lit:
        return np.not_equal(self._columns.is_flipped, self._planned_reversed)

    def _rest(self) -> Bytes:
        beyond = np.where(self._turned, self._nearest, self._columns.hung - 1 - self._furthest)
        return np.where(self._is_dark, NONE, np.where(beyond > 0, YES_OCTET, NO_OCTET))

    def _flicker(self) -> Bytes:
        columns, unsteady = self._columns, self._columns.unsteady
        start = columns.unsteady_from[unsteady]
        near = self._after.take(columns.start_of_gaps[unsteady] + start)
        place = np.where(self._turned[unsteady], self._furthest[unsteady], near)
        there = place >= start
        found = np.full(len(columns), NONE)
        colour = self._with_data(place, columns.start[unsteady], columns.reach[unsteady])
        found[unsteady] = np.where(there, colour, NONE)
        return found

    def _beside(self) -> Bytes:
        ends = (self._nearest, self._nearest_colour), (self._furthest, self._furthest_colour)
        sent = frozenset(int(self._eyes.seen[code]) for code in self._sent)
        beside = Beside(self._columns, self._seen, sent, ends, self._colours)
        return np.where(self._is_dark, NONE, beside.answers(self.colours_around_odd))

    def _witness(self) -> Bytes:
        codes = _codes(self._slots, self._columns.witness_taken)
        first = codes[np.arange(len(codes)), (codes != 0).argmax(axis=1)]
        return np.asarray(self._eyes.seen[first][self._columns.witness])

    def looks(self, one: int) -> Bytes:
        """Return what is seen of every light under one hypothesis, (M,), in the order in which they hang.

        Values are answers: colours, NONE for dark, UNSTEADY for what flickers.
        """
        columns = self._columns
        seen: Bytes = self._seen[columns.wiring[one]].copy()
        seen[columns.reach[one] :] = NONE
        seen[self._odd_at[columns.odd == one]] = self._odd[columns.odd == one]
        seen[(seen != NONE) & (np.arange(columns.lights) >= columns.unsteady_from[one])] = UNSTEADY
        hung = int(columns.hung[one])
        seen[hung:] = NONE
        if columns.is_flipped[one]:
            seen[:hung] = seen[:hung][::-1]
        return seen

    def matches(self, expected: Bytes) -> Bytes:
        """Return under each hypothesis whether the string looks exactly as expected, (H,)."""
        return np.where(matches(self._columns, self._seen, self._odd, expected), YES_OCTET, NO_OCTET)


def _codes(slots: Bytes, taken: Indices) -> Bytes:
    """Return the code of each light, (..., lights), for where it takes its four colours from."""
    codes: Bytes = slots.take(taken[0])
    for light in range(1, COMPONENTS):
        codes |= slots.take(taken[light]) << np.uint8(light)
    return codes
