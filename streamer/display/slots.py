"""Which universe and slot each node of a string falls on: aligned or packed, skipped, reversed."""

import numpy as np
from numpy.typing import NDArray

from streamer.display.model import SLOTS_PER_UNIVERSE, Addressing, Controller, Port

Indices = NDArray[np.intp]


def slots_of_line(controller: Controller, port: Port) -> tuple[Indices, Indices]:
    """Return the universe and the slot (from 0) of each slot of each node on a data line.

    Two (skip + nodes, 3 or 4) arrays, the skipped nodes included, in the order of the line.
    """
    width = len(port.colour_order)
    on_line = np.arange(port.skip + port.nodes, dtype=np.intp)
    components = np.arange(width, dtype=np.intp)
    if controller.addressing is Addressing.PACKED:
        channel = port.slot - 1 + on_line[:, None] * width + components
        return port.universe + channel // SLOTS_PER_UNIVERSE, channel % SLOTS_PER_UNIVERSE
    in_first = (SLOTS_PER_UNIVERSE - (port.slot - 1)) // width
    in_each = SLOTS_PER_UNIVERSE // width
    later = on_line - in_first
    further = np.where(later < 0, 0, later // in_each + 1)
    start = np.where(later < 0, port.slot - 1 + on_line * width, (later % in_each) * width)
    return port.universe + np.repeat(further[:, None], width, axis=1), start[:, None] + components


def slots_of_string(controller: Controller, port: Port) -> tuple[Indices, Indices]:
    """Return the universe and the slot (from 0) of each slot of each node, two (nodes, 3 or 4) arrays.

    Nodes come in the order in which they hang; `reversed` and `skip` are taken into account.
    """
    universe, slot = slots_of_line(controller, port)
    step = -1 if port.reversed else 1
    return universe[port.skip :][::step], slot[port.skip :][::step]
