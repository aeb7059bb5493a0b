"""Burst: more and more universes change at one moment, to find how many packets a controller takes at once.

Small controllers have small buffers: of a burst that is too long, the packets that come last are lost. Each
burst is sent once and without gaps (`Pattern.bursts`), so that what was lost stays to be seen.
"""

from math import ceil
from typing import NamedTuple

import numpy as np

from patterns.colours import BLUE, DARK, GREEN, RED, paint
from patterns.plain import Frame, Ints, Layout, Moment, Param, Params, Pattern

COLOURS = (RED, GREEN, BLUE)
"""In turn. With two, a universe that lost one burst would look right at the next."""
LARGEST = 4_000
"""As many universes as a display may have."""


class _Pieces(NamedTuple):
    """Neighbouring nodes in one universe, in layout order."""

    lengths: Ints
    ranks: Ints
    """The place of each one's universe among those of its controller, from 0."""


class _Burst(NamedTuple):
    packets: int
    most: int
    """Packets in the longest burst."""
    colour: int
    """Which of `COLOURS`."""


def _pieces(layout: Layout) -> _Pieces:
    names = [name.rpartition("/")[0] for name in layout.string_names]
    is_first = np.ones(len(layout.place), np.bool_)
    is_first[1:] = np.diff(layout.universe_of_node) != 0
    is_first[layout.string_starts[layout.string_lengths > 0]] = True
    firsts = np.flatnonzero(is_first)
    universes: dict[str, dict[int, int]] = {}
    ranks = []
    strings, numbers = layout.string_of_node[firsts].tolist(), layout.universe_of_node[firsts].tolist()
    for string, number in zip(strings, numbers, strict=True):
        known = universes.setdefault(names[string], {})
        ranks.append(known.setdefault(number, len(known)))
    return _Pieces(np.diff(firsts, append=len(layout.place)), np.array(ranks, np.int32))


def _most(pieces: _Pieces, params: Params) -> int:
    there = int(pieces.ranks.max(initial=0)) + 1
    return min(int(params["most"]) or there, there)


def _steps_to(most: int, params: Params) -> int:
    bursts = ceil(max(0, most - int(params["first"])) / int(params["by"])) + 1
    # A whole number of rounds of colours: the first burst then differs from the last one too.
    return ceil(bursts / len(COLOURS)) * len(COLOURS)


def _steps(layout: Layout, params: Params) -> int:
    return _steps_to(_most(_pieces(layout), params), params)


def _burst(pieces: _Pieces, moment: Moment, params: Params) -> _Burst:
    most = _most(pieces, params)
    step = moment.step % _steps_to(most, params)
    packets = int(params["first"]) + int(params["by"]) * step
    return _Burst(min(packets, most), most, step % len(COLOURS))


def _render(layout: Layout, moment: Moment, params: Params) -> Frame:
    pieces = _pieces(layout)
    burst = _burst(pieces, moment, params)
    palette = np.stack([DARK, COLOURS[burst.colour].value])
    takes_part = (pieces.ranks < burst.packets).astype(np.uint8)
    return layout.show(paint(palette, np.repeat(takes_part, pieces.lengths)))


def _describe(layout: Layout, moment: Moment, params: Params) -> str:
    if not len(layout.place):
        return "no strings to send a burst to"
    burst = _burst(_pieces(layout), moment, params)
    colour = COLOURS[burst.colour].name
    return f"burst of {burst.packets} of {burst.most} packets to each controller: their lights all {colour}"


PATTERN = Pattern(
    name="burst",
    sentence="More and more universes change at one moment: how many packets a controller takes at once.",
    shows="At each step one universe more takes part, and all of them change colour together. One that stays "
    "dark or in the colour before, or follows a second late, has lost its packet: the burst was too long. "
    "Stay below it with --spread, or give that controller fewer universes.",
    render=_render,
    steps=_steps,
    describe=_describe,
    # Faster than a keep-alive, which would bring what was lost.
    pace=1.25,
    # Each step changes whole strings: each primary flashes once in three steps.
    pace_limit=3.0,
    params=(
        Param("first", 1, "Packets in the first burst.", low=1, high=LARGEST, unit="packets"),
        Param("by", 1, "How many more in each burst.", low=1, high=LARGEST, unit="packets"),
        Param(
            "most",
            0,
            "Packets in the longest burst; 0 is all there are.",
            low=0,
            high=LARGEST,
            unit="packets",
        ),
    ),
    bursts=True,
)
