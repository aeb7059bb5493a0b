"""Shares of likelihood, and how they add up."""

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Bytes
from streamer.display.slots import Indices

Shares = NDArray[np.float64]


def added_up(groups: Indices | Bytes, shares: Shares, count: int) -> Shares:
    """Return the sum of the shares of each of `count` groups."""
    return np.bincount(groups, shares, count).astype(np.float64)
