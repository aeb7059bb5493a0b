"""The named colours, chosen to be told apart at a distance, and the ways to paint nodes with them.

Seven colours, at full or no light in each component. Orange and violet are left out: from afar orange is
taken for red or yellow, and violet for blue or magenta (common practice, no source).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from patterns.plain import COMPONENTS, Bytes, Lit, Param

FULL = 255
"""The most that one slot can ask for (ANSI E1.11)."""
DIM_VALUE = 24
"""Seen at night at a level of 30 %, and under a tenth of full light: nobody takes it for a lit node."""


class Colour(NamedTuple):
    """A colour of light: what it is called, its one letter, and its (4,) value: red, green, blue, white."""

    name: str
    letter: str
    value: Bytes


def _value(red: int, green: int, blue: int, white: int = 0) -> Bytes:
    value = np.array([red, green, blue, white], np.uint8)
    value.setflags(write=False)
    return value


RED = Colour("red", "R", _value(FULL, 0, 0))
YELLOW = Colour("yellow", "Y", _value(FULL, FULL, 0))
GREEN = Colour("green", "G", _value(0, FULL, 0))
CYAN = Colour("cyan", "C", _value(0, FULL, FULL))
BLUE = Colour("blue", "B", _value(0, 0, FULL))
MAGENTA = Colour("magenta", "M", _value(FULL, 0, FULL))
WHITE = Colour("white", "W", _value(FULL, FULL, FULL))
"""Red, green and blue together, on RGBW nodes too: so that white looks alike on every string and stays
white whatever the colour order."""
WHITE_LIGHT = Colour("white-light", "L", _value(0, 0, 0, FULL))
"""The fourth light of an RGBW node alone. RGB nodes have none and stay dark, so few patterns offer it."""

COLOURS = (RED, YELLOW, GREEN, CYAN, BLUE, MAGENTA, WHITE)
NAMES = tuple(colour.name for colour in COLOURS)

DARK = _value(0, 0, 0)
DIM = _value(DIM_VALUE, DIM_VALUE, DIM_VALUE)

_BY_NAME = {colour.name: colour for colour in (*COLOURS, WHITE_LIGHT)}


def named(name: object) -> Bytes:
    """Return the (4,) value of a colour by its name; a checked parameter is always known."""
    return _BY_NAME[str(name)].value


def dimmed(colour: Bytes, value: int) -> Bytes:
    """Return a full colour, (4,), brought down so that its lit components are at `value`, 0 to 255."""
    return np.minimum(colour, np.uint8(value))


def paint(palette: Bytes, choice: NDArray[np.integer]) -> Bytes:
    """Return the (N, 4) colours of N nodes that each chose a row of the (K, 4) palette."""
    # One 32-bit word a node is many times faster than four octets a node.
    words = np.ascontiguousarray(palette).view(np.uint32).reshape(-1)
    return np.take(words, choice).view(np.uint8).reshape(-1, COMPONENTS)


def even(colour: Bytes) -> Lit:
    """Return the picture in which every node shows one colour, (4,)."""
    return Lit(colour, np.zeros(0, np.intp), colour[None])


def colour_param(default: Colour, *, white_light: bool = False) -> Param:
    """Return the parameter that chooses a colour, with the white light of RGBW nodes where it is of use."""
    more = (WHITE_LIGHT.name,) if white_light else ()
    return Param("colour", default.name, "The colour of the lit nodes.", choices=NAMES + more)


def rest_param() -> Param:
    """Return the parameter that says what the nodes in between show."""
    return Param(
        "rest", "dark", "What the other nodes show: dim lets a string be seen whole.", choices=("dark", "dim")
    )


def rest_of(rest: object) -> Bytes:
    """Return the (4,) value that `rest_param` stands for."""
    return DIM if rest == "dim" else DARK
