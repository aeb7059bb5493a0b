"""Numbers written on a string of nodes: each decimal digit as that many lit nodes, ten for a nought.

Read from the head of the string: 102 is one lit, a gap, ten lit, a gap, two lit. Told by counting, never by
colour, so that it can be read by anybody and whatever the colour order.
"""

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Param

DIGIT_GAP = 2
"""Dark nodes between two digits: one alone might be a dead node."""
NUMBER_GAP = 6
"""Dark nodes after a whole number: longer than a digit gap at a glance."""
NUMBER_GAP_GROWTH = 2
"""More dark nodes after a number, for each that sets its lit nodes apart: still longer at a glance."""
NOUGHT = 10
"""Lit nodes for the digit 0, which must not be dark."""

APART = Param(
    "apart",
    0,
    "Dark nodes after each lit one, so that close nodes can be counted.",
    low=0,
    high=3,
    unit="nodes",
)

_LIT, _DARK = "1", "0"


def spell(digits: str, apart: int) -> NDArray[np.bool_]:
    """Return which nodes are lit, (width,): the first and the last of them are."""
    dot = _LIT + _DARK * apart
    text = (_DARK * DIGIT_GAP).join(dot * lit_nodes(digit) for digit in digits)
    return np.array([node == _LIT for node in text[: len(text) - apart]])


def gap_after(apart: int) -> int:
    """Return how many nodes stay dark after a whole number."""
    return NUMBER_GAP + NUMBER_GAP_GROWTH * apart


def lit_nodes(digit: str) -> int:
    """Return how many nodes are lit for one decimal digit."""
    return int(digit) or NOUGHT


def in_words(digits: str) -> str:
    """Return what a person should count: "1 lit, gap, 2 lit"."""
    return ", gap, ".join(f"{lit_nodes(digit)} lit" for digit in digits)
