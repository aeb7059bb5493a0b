"""The pictures in which one light that is not as the others gives away in which part of the string it is."""

from collections.abc import Iterator

import numpy as np

from patterns.plain import Bytes
from streamer.find.answers import (
    BLUE_CODE,
    DARK_CODE,
    GREEN_CODE,
    RED_CODE,
    WHITE_CODE,
    WHITE_LIGHT_CODE,
    Eyes,
)
from streamer.find.columns import Columns
from streamer.find.groups import LEAST_SHARE, groups_of
from streamer.find.picture import Painter, Picture
from streamer.find.rows import KEEP_ALL
from streamer.find.shares import Shares, added_up

ALL_CODES = range(1, WHITE_CODE + 1)
BEFORE, AFTER = 1, -1
HALVES = 2
CLOSE_UPS = 3
"""So many places are looked at one by one."""


class OddLights:
    """Makes pictures for one string of `nodes` planned lights."""

    def __init__(self, painter: Painter, eyes: Eyes, nodes: int) -> None:
        self._painter, self._eyes, self._nodes = painter, eyes, nodes
        self._places = np.arange(painter.lights)

    def pictures(self, columns: Columns, shares: Shares) -> Iterator[Picture]:
        """Yield blocks and halves for hypotheses with these shares, (H,), 0 for those with no odd light."""
        place = np.maximum(columns.at, 0)
        for palette, concerned in self._palettes(columns):
            mine = shares * concerned
            if mine.sum() < LEAST_SHARE:
                continue
            at = added_up(place, mine, self._painter.lights)
            # What is asked for is the colour of the light before the odd one, whichever end that is.
            flipped = np.average(columns.is_flipped, weights=mine) > 1 / HALVES
            if len(palette) > 1:
                group = np.roll(groups_of(at, len(palette)), BEFORE if flipped else AFTER)
                codes = np.array(palette, np.uint8)[group]
                codes[self._nodes :] = DARK_CODE
                yield self._lit(codes)
            yield self._half(at, palette[0])
        yield from self._fills(columns, shares)

    def close_ups(self, columns: Columns, shares: Shares) -> Iterator[Picture]:
        """Yield the likeliest places one by one, all else dark: they tell little, but never nothing."""
        at = added_up(np.maximum(columns.at, 0), shares * (columns.at >= 0), self._painter.lights)
        for place in np.argsort(-at, kind="stable")[:CLOSE_UPS].tolist():
            if at[place] < LEAST_SHARE:
                continue
            for code in (*ALL_CODES, WHITE_LIGHT_CODE):
                codes = np.where(self._places == place, code, DARK_CODE).astype(np.uint8)
                yield self._painter.planned(codes)

    def _palettes(self, columns: Columns) -> Iterator[tuple[tuple[int, ...], Bytes]]:
        """Yield colours among which a light looks odd, and which hypotheses it then shows."""
        dark_or_white = (columns.add == DARK_CODE) | (columns.add == WHITE_CODE)
        yield self._eyes.blocks, np.asarray((columns.keep == 0) & dark_or_white)
        for code in (RED_CODE, GREEN_CODE, BLUE_CODE):
            yield self._lacking(code), np.asarray((columns.keep & code == 0) & (columns.keep != 0))
            if others := self._unlike(code):
                yield others, np.asarray(columns.add == code)
        yield (WHITE_LIGHT_CODE,), np.asarray(columns.keep == KEEP_ALL & ~WHITE_LIGHT_CODE)

    def _lacking(self, code: int) -> tuple[int, ...]:
        """Return colours that a light without this one shows as none of them, the colour itself first."""
        seen = self._eyes.seen
        found: dict[int, int] = {}
        shown_instead = set()
        for each in (each for each in ALL_CODES if each & code):
            ours, instead = int(seen[each]), int(seen[each & ~code])
            if ours not in found and ours not in shown_instead and instead not in {*found, ours}:
                found[ours] = each
                shown_instead.add(instead)
        return tuple(found.values())

    def _unlike(self, code: int) -> tuple[int, ...]:
        """Return colours that are not taken for this one."""
        seen = self._eyes.seen
        return tuple({int(seen[each]): each for each in ALL_CODES if seen[each] != seen[code]}.values())

    def _half(self, at: Shares, code: int) -> Picture:
        """Return the nearer half of what is possible lit, a light to each side of it included."""
        first = max(int(np.flatnonzero(at)[0]) - 1, 0)
        last = min(_median(at) + 1, self._nodes - 1)
        lit = (self._places >= first) & (self._places <= last)
        return self._lit(np.where(lit, code, DARK_CODE).astype(np.uint8))

    def _fills(self, columns: Columns, shares: Shares) -> Iterator[Picture]:
        """Yield the string lit up to the middle of where a light may be that is always lit.

        Beyond that there would be a gap before it, which needs no colours to be seen.
        """
        mine = shares * (columns.add != DARK_CODE)
        if mine.sum() >= LEAST_SHARE:
            at = added_up(np.maximum(columns.at, 0), mine, self._painter.lights)
            lit = self._places < _median(at)
            yield self._lit(np.where(lit, WHITE_CODE, DARK_CODE).astype(np.uint8))

    def _lit(self, codes: Bytes) -> Picture:
        return self._painter.planned(codes, is_whole=True)


def _median(at: Shares) -> int:
    """Return the first place up to which half of the shares lie."""
    return int(np.searchsorted(at.cumsum(), at.sum() / HALVES))
