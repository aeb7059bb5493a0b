"""The pictures made for what is still possible: blocks of colour that part it into equal shares."""

from collections.abc import Iterator

import numpy as np

from patterns.plain import Bytes
from streamer.find.answers import DARK_CODE, Eyes
from streamer.find.columns import Columns
from streamer.find.groups import LEAST_SHARE, groups_of
from streamer.find.odd import OddLights
from streamer.find.picture import Painter, Picture
from streamer.find.shares import Shares, added_up

WIRINGS = 2
"""So many wirings other than the planned one get blocks of their own."""


class Splits:
    """Makes pictures for one string of `nodes` planned lights."""

    def __init__(self, painter: Painter, eyes: Eyes, nodes: int) -> None:
        self._painter, self._eyes, self._nodes = painter, eyes, nodes
        self._places = np.arange(painter.lights)
        self._odd = OddLights(painter, eyes, nodes)

    def pictures(self, columns: Columns, shares: Shares) -> Iterator[Picture]:
        """Yield the pictures for hypotheses with these shares, (H,)."""
        yield from self._ends(columns, shares)
        odd = columns.at >= 0
        if shares[odd].sum() >= LEAST_SHARE:
            yield from self._odd.pictures(columns, np.where(odd, shares, 0.0))
        unsteady = added_up(columns.unsteady_from, shares, self._painter.lights + 1)[:-1]
        if unsteady.sum() >= LEAST_SHARE:
            yield from self._flicker(unsteady)

    def close_ups(self, columns: Columns, shares: Shares) -> Iterator[Picture]:
        """Yield pictures for when the others tell next to nothing."""
        yield from self._odd.close_ups(columns, shares)

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

    def _flicker(self, unsteady: Shares) -> Iterator[Picture]:
        """Yield blocks, and the string lit up to a place: the flickering then begins there or beyond."""
        blocks = self._eyes.blocks
        planned = self._places < self._nodes
        for colours in (blocks, (blocks[0], DARK_CODE)):
            codes = np.array(colours, np.uint8)[groups_of(unsteady, len(colours))]
            yield self._painter.planned(np.where(planned, codes, DARK_CODE).astype(np.uint8), is_whole=True)
