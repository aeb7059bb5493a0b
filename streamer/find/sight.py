"""What would be seen of one picture under every hypothesis, and so what would be answered.

Tables over wirings are made once a picture; every hypothesis then looks its answer up in them.
"""

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from patterns.plain import COMPONENTS, Bytes
from streamer.display.slots import Indices
from streamer.find.answers import NO, YES, Answer, Eyes
from streamer.find.beside import Beside
from streamer.find.hypotheses import Columns
from streamer.find.questions import Asks

Lit = NDArray[np.bool_]
CHUNK = 512
"""Hypotheses whose every light is looked at at once. Bounds memory."""


class Sight:
    """One picture, `slots` (canvas size + 1,) of 0 or 1, as seen under H hypotheses, B wirings, M lights."""

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
        self._codes = _codes(slots, columns.taken)
        """(B, M)"""
        self._sent = sent_codes
        self._turned = columns.is_flipped != planned_reversed
        self._lights = columns.taken.shape[2]
        self._has_at = columns.at >= 0
        place = np.maximum(columns.at, 0)
        before = self._codes[columns.wiring, place]
        self._odd = np.where(self._has_at, (before & columns.keep) | columns.add, 0).astype(np.uint8)

    def answers(self, asks: Asks) -> Bytes:
        """Return the answer to a question under each hypothesis, (H,)."""
        found = getattr(self, f"_{asks.value}")()
        return np.asarray(found, np.uint8)

    @cached_property
    def _before(self) -> Indices:
        """(B, M + 1): the last lit light before each place, -1 for none."""
        places = np.where(self._codes != 0, np.arange(self._lights, dtype=np.int32), np.int32(-1))
        found = np.full((len(self._codes), self._lights + 1), -1, np.int32)
        np.maximum.accumulate(places, axis=1, out=found[:, 1:])
        return found

    @cached_property
    def _after(self) -> Indices:
        """(B, M + 1): the first lit light from each place on, M for none."""
        places = np.where(self._codes != 0, np.arange(self._lights, dtype=np.int32), np.int32(self._lights))
        found = np.full((len(self._codes), self._lights + 1), self._lights, np.int32)
        found[:, :-1] = np.minimum.accumulate(places[:, ::-1], axis=1)[:, ::-1]
        return found

    @cached_property
    def _nearest(self) -> Indices:
        """The first lit light as the data runs, (H,); M for none."""
        columns = self._columns
        first = self._after[columns.wiring, 0]
        beyond = self._after[columns.wiring, np.maximum(columns.at, 0) + 1]
        first = np.where(self._has_at & (self._odd == 0) & (first == columns.at), beyond, first)
        first = np.where(self._odd != 0, np.minimum(first, columns.at), first)
        return np.asarray(np.where(first < columns.reach, first, self._lights))

    @cached_property
    def _furthest(self) -> Indices:
        """The last lit light as the data runs, (H,); -1 for none."""
        columns = self._columns
        last = self._before[columns.wiring, columns.reach]
        before = self._before[columns.wiring, np.maximum(columns.at, 0)]
        last = np.where(self._has_at & (self._odd == 0) & (last == columns.at), before, last)
        return np.where(self._odd != 0, np.maximum(last, columns.at), last)

    @cached_property
    def _is_dark(self) -> Lit:
        return self._furthest < 0

    def _colour(self, places: Indices) -> Bytes:
        """Return what is answered for the colour of a light under each hypothesis, (H,)."""
        columns = self._columns
        inside = (places >= 0) & (places < columns.hung)
        there = np.minimum(np.maximum(places, 0), self._lights - 1)
        codes = np.where(there < columns.reach, self._codes[columns.wiring, there], 0)
        codes = np.where(self._has_at & (there == columns.at), self._odd, codes)
        codes = np.where(inside, codes, 0)
        seen = self._eyes.seen[codes]
        flickers = (codes != 0) & (there >= columns.unsteady_from)
        return np.where(flickers, Answer.UNSTEADY, seen).astype(np.uint8)

    def _first(self) -> Bytes:
        return self._end(np.where(self._columns.is_flipped, self._furthest, self._nearest))

    def _last(self) -> Bytes:
        return self._end(np.where(self._columns.is_flipped, self._nearest, self._furthest))

    def _end(self, places: Indices) -> Bytes:
        return np.where(self._is_dark, Answer.NONE, self._colour(places)).astype(np.uint8)

    def _head(self) -> Bytes:
        columns = self._columns
        return self._colour(np.where(columns.is_flipped, columns.hung - 1, 0))

    def _tail(self) -> Bytes:
        columns = self._columns
        return self._colour(np.where(columns.is_flipped, 0, columns.hung - 1))

    def _rest(self) -> Bytes:
        columns = self._columns
        beyond = np.where(self._turned, self._nearest, columns.hung - 1 - self._furthest)
        return np.where(self._is_dark, Answer.NONE, np.where(beyond > 0, YES, NO)).astype(np.uint8)

    def _flicker(self) -> Bytes:
        columns = self._columns
        start = np.minimum(columns.unsteady_from, self._lights)
        near = self._after[columns.wiring, start]
        place = np.where(self._turned, self._furthest, near)
        # Only a whole string flickers: no hypothesis has an odd light as well.
        there = (place >= columns.unsteady_from) & (place < columns.reach)
        codes = self._codes[columns.wiring, np.clip(place, 0, self._lights - 1)]
        return np.where(there, self._eyes.seen[codes], Answer.NONE).astype(np.uint8)

    def _beside(self) -> Bytes:
        ends = np.minimum(self._nearest, self._lights - 1), np.maximum(self._furthest, 0)
        sent = frozenset(int(self._eyes.seen[code]) for code in self._sent)
        beside = Beside(self._columns, self._eyes.seen[self._codes], sent, ends, self._colour)
        return np.where(self._is_dark, Answer.NONE, beside.answers()).astype(np.uint8)

    def _witness(self) -> Bytes:
        codes = _codes(self._slots, self._columns.witness_taken)
        lit = codes != 0
        first = codes[np.arange(len(codes)), lit.argmax(axis=1)]
        return np.asarray(self._eyes.seen[first][self._columns.witness])

    def looks(self, chosen: Indices) -> Bytes:
        """Return what is seen of every light under some hypotheses, (K, M), in the order in which they hang.

        Values are answers: colours, NONE for dark, UNSTEADY for what flickers.
        """
        columns = self._columns
        hung = columns.hung[chosen, None]
        place = np.arange(self._lights)
        place = np.where(columns.is_flipped[chosen, None], hung - 1 - place, place)
        there = np.clip(place, 0, self._lights - 1)
        codes = self._codes[columns.wiring[chosen, None], there]
        codes[there >= columns.reach[chosen, None]] = 0
        at = there == columns.at[chosen, None]
        codes[at] = np.broadcast_to(self._odd[chosen, None], at.shape)[at]
        codes[(place < 0) | (place >= hung)] = 0
        seen: Bytes = self._eyes.seen[codes]
        seen[(codes != 0) & (there >= columns.unsteady_from[chosen, None])] = Answer.UNSTEADY
        return seen

    def matches(self, expected: Bytes) -> Bytes:
        """Return under each hypothesis whether the string looks exactly as expected, (H,)."""
        pieces = [
            (self.looks(np.arange(start, min(start + CHUNK, len(self._columns)))) == expected).all(axis=1)
            for start in range(0, len(self._columns), CHUNK)
        ]
        return np.where(np.concatenate(pieces), YES, NO).astype(np.uint8)


def _codes(slots: Bytes, taken: Indices) -> Bytes:
    """Return the code of each light, (..., lights), for where it takes its four colours from."""
    lit = np.take(slots, taken)
    codes: Bytes = lit[0].copy()
    for light in range(1, COMPONENTS):
        codes |= lit[light] << np.uint8(light)
    return codes
