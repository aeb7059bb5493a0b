"""The pictures that ask where a string gets its data from: other ports, or the universes beside."""

from collections.abc import Iterator, Sequence
from itertools import permutations

import numpy as np

from patterns.plain import Bytes
from streamer.display.slots import Indices
from streamer.find.answers import Eyes
from streamer.find.columns import ABOVE, BELOW, PLANNED, Columns
from streamer.find.picture import ELSEWHERE, Painter, Picture
from streamer.find.shares import Shares, added_up


def source_pictures(painter: Painter, eyes: Eyes, columns: Columns, shares: Shares) -> Iterator[Picture]:
    """Yield a picture in which each group of possible sources has its own colour, the least likely dark."""
    weights = added_up(columns.source, shares, columns.source_taken.shape[1])
    sources = [source for source in np.argsort(-weights).tolist() if weights[source] > 0]
    for has_dark in (True, False):
        colours = (*eyes.blocks, 0) if has_dark else eyes.blocks
        yield _painted(painter, columns.source_taken, sources, _assigned(weights, sources, colours))


def _assigned(weights: Shares, sources: Sequence[int], colours: tuple[int, ...]) -> dict[int, int]:
    """Return a colour for each source, the shares as even as may be."""
    load = dict.fromkeys(colours, 0.0)
    found = {}
    for source in sources:
        found[source] = min(load, key=lambda colour: load[colour])
        load[found[source]] += float(weights[source])
    return found


def _painted(painter: Painter, taken: Indices, sources: Sequence[int], colour: dict[int, int]) -> Picture:
    slots = painter.blank()
    # The likeliest last: where two sources share slots, that one's colour stands.
    for source in reversed(sources):
        if colour[source]:
            painter.paint(slots, taken[:, source], np.full(painter.lights, colour[source], np.uint8))
    return Picture(slots, painter.seen_as_planned(slots), elsewhere=ELSEWHERE)


def witness_pictures(painter: Painter, eyes: Eyes, columns: Columns) -> Iterator[Picture]:
    """Yield pictures that show by the string beside whether the whole controller is off by one.

    There are several, so that a doubtful answer can be asked for again in other colours.
    """
    lights = columns.witness_taken.shape[2]
    for ways in permutations((BELOW, ABOVE, PLANNED)):
        slots: Bytes = painter.blank()
        for way, code in zip(ways, (*eyes.blocks, 0, 0), strict=False):
            painter.paint(slots, columns.witness_taken[:, way], np.full(lights, code, np.uint8))
        yield Picture(slots, painter.seen_as_planned(slots), elsewhere=ELSEWHERE, is_beside=True)
