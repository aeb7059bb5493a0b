"""Which lights differ between two frames: what has not changed costs nothing further down.

Rows are picked out and put back as one number each where a row has four octets. NumPy copies single octets
by an index of their own: at 17,000 of 170,000 nodes that takes ten times as long. What has few lights at all
is done whole: to find out which of them differ takes longer.
"""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Bytes, Frame
from streamer.display.slots import Indices
from streamer.engine.totals import Totals

EVERY = slice(None)
Chosen = Indices | slice
"""Some lights by their rows, or those from one to another, or `EVERY` one of them."""
NONE: Indices = np.zeros(0, np.intp)
FEW_SHARE = 0.15
"""Up to this share of the nodes it is quicker to pick out those that changed than to look at all of them."""
MANY_NODES = 4096
"""Of fewer than this, all are looked at, unless none has changed."""


class Change(NamedTuple):
    """What is known of a frame by those who made it out of another."""

    before: Frame | None
    """The other; None if there is none."""
    frame: Frame | None
    """The one made of it: both are the very objects."""
    altered: Chosen
    """The only nodes in which they may differ."""
    totals: Totals | None
    """Of the frame, where they are known."""

    def is_about(self, before: Frame | None, frame: Frame) -> bool:
        """Whether it tells how `before` became `frame`."""
        return before is not None and before is self.before and frame is self.frame


ANYTHING = Change(None, None, EVERY, None)


def differing_nodes(nodes: Bytes, others: Bytes) -> Chosen:
    """Return the rows in which two (N, 4) arrays differ, or `EVERY` where that is more than a few."""
    if nodes is others:
        return NONE
    if len(nodes) < MANY_NODES:
        return NONE if nodes.tobytes() == others.tobytes() else EVERY
    differs = words_of(nodes) != words_of(others)
    return EVERY if np.count_nonzero(differs) > FEW_SHARE * len(nodes) else np.flatnonzero(differs)


def either(some: Indices, others: Indices, marks: NDArray[np.bool_]) -> Chosen:
    """Return the rows that are among some or among others, each once, or `EVERY`: as `differing_nodes` does.

    `marks` has one for each row there is, unset, and is left so.
    """
    # Frames made ahead are followed so: of few nodes, those that stay as they are as well.
    few = FEW_SHARE * len(marks) if len(marks) >= MANY_NODES else 0
    if max(len(some), len(others)) > few:
        return EVERY
    marks[some] = True
    more = others.compress(~marks.take(others))
    marks[some] = False
    return EVERY if len(some) + len(more) > few else np.concatenate([some, more])


def words_of(nodes: NDArray[Any]) -> NDArray[np.uint32]:
    """View the four octets of each row as one number, (N,)."""
    return np.ascontiguousarray(nodes).view(np.uint32)[:, 0]


def picked(array: NDArray[Any], rows: Chosen) -> NDArray[Any]:
    """Return these rows of an array: copied, or the array itself for `EVERY`, or a part of it."""
    return array[rows] if isinstance(rows, slice) else array.take(rows, axis=0)


def put_back(array: NDArray[Any], rows: Chosen, values: NDArray[Any] | float) -> None:
    """Write values into these rows of a C-contiguous array."""
    if isinstance(rows, np.ndarray) and isinstance(values, np.ndarray) and _has_words(array):
        words_of(array)[rows] = words_of(values)
    else:
        array[rows] = values


def _has_words(array: NDArray[Any]) -> bool:
    """Say whether its rows are of four octets."""
    return array.ndim > 1 and array.strides[0] == np.uint32().itemsize
