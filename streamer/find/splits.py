"""The pictures made for what is still possible: blocks of colour that part it into equal shares."""

from collections.abc import Iterator

import numpy as np

from patterns.plain import Bytes
from streamer.display.slots import Indices
from streamer.find.answers import (
    BLUE_CODE,
    GREEN_CODE,
    RED_CODE,
    WHITE_CODE,
    WHITE_LIGHT_CODE,
    Eyes,
)
from streamer.find.hypotheses import Columns
from streamer.find.picture import Painter, Picture
from streamer.find.rows import KEEP_ALL
from streamer.find.shares import Shares, added_up

LEAST_SHARE = 0.002
"""What is less likely than this gets no pictures of its own."""
WIRINGS = 2
"""So many wirings other than the planned one get blocks of their own."""
ALL_CODES = range(1, WHITE_CODE + 1)
BEFORE, AFTER = 1, -1


class Splits:
    """Makes pictures for one string of `nodes` planned lights."""

    def __init__(self, painter: Painter, eyes: Eyes, nodes: int) -> None:
        self._painter, self._eyes, self._nodes = painter, eyes, nodes
        self._places = np.arange(painter.lights)

    def pictures(self, columns: Columns, shares: Shares) -> Iterator[Picture]:
        """Yield the pictures for hypotheses with these shares, (H,)."""
        yield from self._ends(columns, shares)
        odd = columns.at >= 0
        if shares[odd].sum() >= LEAST_SHARE:
            yield from self._odd_lights(columns, np.where(odd, shares, 0.0))
        unsteady = added_up(columns.unsteady_from, shares, self._painter.lights + 1)[:-1]
        if unsteady.sum() >= LEAST_SHARE:
            yield self._whole(groups_of(unsteady, len(self._eyes.blocks)), self._eyes.blocks)

    def _ends(self, columns: Columns, shares: Shares) -> Iterator[Picture]:
        """Yield blocks, so that the colour of the last light with data says in which share it is.

        For the string as planned, and as the wirings under which a break is likeliest would show them.
        """
        reach = added_up(columns.reach, shares, self._painter.lights + 1)
        for codes in self._blocks(reach):
            yield self._painter.planned(codes, is_whole=bool((codes[: self._nodes] != 0).all()))
        broken = columns.reach < columns.hung
        likely = added_up(columns.wiring, shares * broken, columns.taken.shape[1])
        for wiring in np.argsort(-likely)[:WIRINGS].tolist():
            if likely[wiring] < LEAST_SHARE:
                continue
            mine = shares * (columns.wiring == wiring)
            for codes in self._blocks(added_up(columns.reach, mine, self._painter.lights + 1)):
                yield self._painter.through(columns.taken[:, wiring], codes)

    def _blocks(self, reach: Shares) -> Iterator[Bytes]:
        blocks = self._eyes.blocks
        top = int(np.flatnonzero(reach)[-1])
        for colours in ((0, *blocks), blocks):
            codes = np.array(colours, np.uint8)[groups_of(reach, len(colours))[1:]]
            codes[self._places >= max(top, 1)] = 0
            yield codes

    def _odd_lights(self, columns: Columns, shares: Shares) -> Iterator[Picture]:
        place = np.maximum(columns.at, 0)
        for palette, concerned in self._palettes(columns):
            mine = shares * concerned
            if mine.sum() < LEAST_SHARE:
                continue
            at = added_up(place, mine, self._painter.lights)
            # What is asked for is the colour of the light before the odd one, whichever end that is.
            flipped = np.average(columns.is_flipped, weights=mine) > 1 / 2
            if len(palette) > 1:
                yield self._whole(
                    np.roll(groups_of(at, len(palette)), AFTER if not flipped else BEFORE), palette
                )
            yield self._spans(at, palette[0])

    def _palettes(self, columns: Columns) -> Iterator[tuple[tuple[int, ...], Bytes]]:
        """Yield colours that a light has to be sent to look odd, and which hypotheses would then."""
        blocks = self._eyes.blocks
        yield blocks, np.asarray((columns.keep == 0) & ((columns.add == 0) | (columns.add == WHITE_CODE)))
        for code in (RED_CODE, GREEN_CODE, BLUE_CODE):
            lacks = self._distinct(each for each in ALL_CODES if each & code)
            yield lacks, np.asarray((columns.keep & code == 0) & (columns.keep != 0))
            others = self._distinct(
                each for each in ALL_CODES if self._eyes.seen[each] != self._eyes.seen[code]
            )
            if others:
                yield others, np.asarray(columns.add == code)
        yield (WHITE_LIGHT_CODE,), np.asarray(columns.keep == KEEP_ALL & ~WHITE_LIGHT_CODE)

    def _distinct(self, codes: Iterator[int]) -> tuple[int, ...]:
        """Return one code for each colour that the eyes tell apart."""
        return tuple({int(self._eyes.seen[code]): code for code in codes}.values())

    def _spans(self, at: Shares, code: int) -> Picture:
        """Return the nearer half of what is possible lit, a light to each side of it included."""
        group = groups_of(at, 2)
        inside = np.flatnonzero((group == 0) & (at > 0))
        first, last = max(int(inside[0]) - 1, 0), min(int(inside[-1]) + 1, self._nodes - 1)
        lit = (self._places >= first) & (self._places <= last)
        return self._painter.planned(np.where(lit, code, 0).astype(np.uint8), is_whole=True)

    def _whole(self, group: Indices, colours: tuple[int, ...]) -> Picture:
        codes = np.array(colours, np.uint8)[group]
        codes[self._nodes :] = 0
        return self._painter.planned(codes, is_whole=True)


def groups_of(shares: Shares, count: int) -> Indices:
    """Return for each place which of `count` groups of equal share it is in, counted along the string."""
    total = shares.sum()
    middle = shares.cumsum() - shares / 2
    found = np.floor(middle / total * count).astype(np.intp)
    return np.asarray(np.minimum(found, count - 1))
