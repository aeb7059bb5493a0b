"""Tint: each string in its own colour, with its number at its head: a port is known at a glance.

Seven colours repeat; the number does not. Where it does not fit, the string shows it in binary, first node
first, so that even strings of five nodes differ in which nodes are lit: up to 31 of them. A string too short
even for that is lit whole, and known when it is lit alone.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from patterns.colours import COLOURS, DARK, paint
from patterns.plain import Bytes, Frame, Layout, Moment, Param, Params, Pattern
from patterns.tally import APART, gap_after, in_words, spell

_DARK = len(COLOURS)
_MOST_BITS = 30
_PALETTE = np.stack([*(colour.value for colour in COLOURS), DARK])


def _steps(layout: Layout, _params: Params) -> int:
    return max(1, len(layout.string_names))


def _render(layout: Layout, moment: Moment, params: Params) -> Frame:
    strings = len(layout.string_names)
    colour = (np.arange(strings) % len(COLOURS)).astype(np.uint8)
    if params["alone"]:
        colour[np.arange(strings) != moment.step % _steps(layout, params)] = _DARK
    choice = np.repeat(colour, layout.string_lengths)
    decimal, binary = _heads(layout, params)
    _cut(choice, layout, decimal, _decimals(strings, int(params["apart"])))
    _cut(choice, layout, binary, _binaries(strings))
    return layout.show(paint(_PALETTE, choice))


def _heads(layout: Layout, params: Params) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which strings, (P,), have their number in decimal, and which in binary; others are lit whole."""
    strings = len(layout.string_names)
    lengths = layout.string_lengths
    # A node of plain colour after every number keeps the two ways apart: no binary under 129 has such a gap.
    decimal = lengths > _decimals(strings, int(params["apart"])).shape[1]
    fits = np.arange(1, strings + 1) >> np.minimum(lengths, _MOST_BITS) == 0
    return decimal, ~decimal & fits & (not params["alone"])


def _cut(choice: Bytes, layout: Layout, which: NDArray[np.bool_], heads: NDArray[np.bool_]) -> None:
    """Darken the chosen strings where their (P, width) heads are not lit."""
    strings = np.flatnonzero(which)
    place = np.arange(heads.shape[1])
    dark = ~heads[strings] & (place < layout.string_lengths[strings, None])
    choice[(layout.string_starts[strings, None] + place)[dark]] = _DARK


@lru_cache(maxsize=8)
def _decimals(strings: int, apart: int) -> NDArray[np.bool_]:
    """Return (strings, width): each number, a gap, and plain colour up to the width of the widest."""
    rows = [
        np.append(spell(str(number), apart), np.zeros(gap_after(apart), np.bool_))
        for number in range(1, strings + 1)
    ]
    heads = np.ones((strings, max(map(len, rows), default=0)), np.bool_)
    for head, row in zip(heads, rows, strict=True):
        head[: len(row)] = row
    return heads


@lru_cache(maxsize=8)
def _binaries(strings: int) -> NDArray[np.bool_]:
    """Return (strings, bits): the bits of each number, the smallest first, then dark."""
    bits = np.arange(1, strings + 1)[:, None] >> np.arange(_MOST_BITS)
    return (bits & 1).astype(np.bool_)


def _describe(layout: Layout, moment: Moment, params: Params) -> str:
    strings = len(layout.string_names)
    if not strings:
        return "no strings to tint"
    string = moment.step % strings
    decimal, binary = _heads(layout, params)
    if decimal[string]:
        marks = in_words(str(string + 1))
    elif binary[string]:
        marks = f"lit at {', '.join(map(str, np.flatnonzero(_binaries(strings)[string]) + 1))} only"
    else:
        marks = "all lit, too short for its number"
    name = f"string {string + 1} of {strings}, {layout.string_names[string]}"
    return f"{name}: {COLOURS[string % len(COLOURS)].name}, {marks}"


PATTERN = Pattern(
    name="tint",
    sentence="Each string in a colour of its own, with its number at its head.",
    shows="Count the lit nodes at the head: 13 is one lit, a gap, three lit; then the string's colour to its "
    "end. A string with another's number hangs on another's port. Each step names the next string.",
    render=_render,
    steps=_steps,
    describe=_describe,
    # With `alone` each step changes whole strings.
    pace_limit=3.0,
    params=(
        Param(
            "alone", False, "Light only the string that the step names, so that even the shortest is known."
        ),
        APART,
    ),
)
