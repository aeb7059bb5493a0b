"""Parting the places of a string into groups of equal share."""

import numpy as np

from streamer.display.slots import Indices
from streamer.find.shares import Shares

LEAST_SHARE = 0.002
"""What is less likely than this gets no pictures of its own."""


def groups_of(shares: Shares, count: int) -> Indices:
    """Return for each place which of `count` groups of equal share it is in, counted along the string."""
    total = shares.sum()
    middle = shares.cumsum() - shares / 2
    found = np.floor(middle / total * count).astype(np.intp)
    return np.asarray(np.minimum(found, count - 1))
