"""What all lights of a frame come to: how bright the display is as a whole."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from patterns.plain import COMPONENTS, Bytes

FEW_NODES = 2**14
"""So many octets add up to less than 2 ** 24, which a float32 holds; of more, blocks are as quick."""
BLOCK = 256
"""So many octets add up to less than 2 ** 16."""


class Totals(NamedTuple):
    """What all nodes of a frame come to."""

    sums: NDArray[np.int64]
    """(4,): of each component over all nodes."""
    highest: int
    """The highest octet."""


def highest_of(values: Bytes) -> int:
    """Return the highest octet of any shape; 0 where there is none."""
    return int(np.maximum.reduce(values, axis=None)) if values.size else 0


def sums_of(nodes: Bytes) -> NDArray[np.int64]:
    """Return the sum of each component, (4,): most of it in short numbers, many at a time."""
    if len(nodes) <= FEW_NODES:
        # As a product of matrices it takes a fifth of the time.
        return np.asarray((np.ones(len(nodes), np.float32) @ nodes.astype(np.float32)).astype(np.int64))
    in_blocks = len(nodes) // BLOCK * BLOCK
    blocks = nodes[:in_blocks].reshape(BLOCK, -1).sum(axis=0, dtype=np.uint16)
    sums = blocks.reshape(-1, COMPONENTS).sum(axis=0, dtype=np.int64)
    return np.asarray(sums + nodes[in_blocks:].sum(axis=0, dtype=np.int64))
