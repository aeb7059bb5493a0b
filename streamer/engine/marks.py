"""Lights picked out by marks: which of them are marked, and when it is for these."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from patterns.plain import COMPONENTS
from streamer.display.slots import Indices
from streamer.engine.difference import Chosen, picked

Mask = NDArray[np.bool_]
Moments = float | NDArray[np.float64]
"""One for all lights, or one for each."""


def copied(array: NDArray[Any], rows: Chosen) -> NDArray[Any]:
    """Return these rows of an array, copied in any case: see `picked`."""
    return array.copy() if isinstance(rows, slice) else picked(array, rows)


def marked_among(rows: Chosen, mask: Mask) -> Indices:
    """Return those of the chosen rows that are marked; there is a mark for each."""
    (marked,) = mask.nonzero()
    return rows.take(marked) if isinstance(rows, np.ndarray) else marked + (rows.start or 0)


def moments_of(moments_s: Moments, mask: Mask) -> Moments:
    """Return the moments of the lights that are marked."""
    return moments_s if isinstance(moments_s, float) else moments_s[mask]


def any_component(marks: NDArray[Any]) -> Mask:
    """Return for each light whether any component is marked; `any` along a short axis is slow."""
    if marks.strides == (COMPONENTS, 1):
        words: Mask = marks.view(np.uint32)[:, 0] != 0
        return words
    of_any: Mask = np.asarray(marks.any(axis=1))
    return of_any
