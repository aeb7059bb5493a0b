"""Reads a frame that is laid out for one display as the nodes of another, by the slots that both use.

A search plays its own lay-out of the universes; what it sends is to be seen on the strings as they hang.
"""

import numpy as np

from patterns.plain import COMPONENTS, Bytes, Frame
from streamer.display.model import SLOTS_PER_UNIVERSE, Display
from streamer.display.patch import Patch, compile_patch
from streamer.display.slots import Indices


class FramesAsHung:
    """From what is `played` to what `hangs`. Slots that are not played are dark."""

    def __init__(self, played: Display, hangs: Display) -> None:
        self._played, self._hangs = compile_patch(played), compile_patch(hangs)
        self._rows = _rows(self._played, self._hangs)
        self._nodes = sum(port.nodes for port in hangs.ports)

    def frame(self, played: Frame) -> Frame:
        """Return the frame as the strings and fixtures of what hangs are sent it."""
        slots = np.zeros((len(self._played.streams) + 1, SLOTS_PER_UNIVERSE), np.uint8)
        self._played.scatter(played, slots)
        nodes: Bytes = np.zeros(self._nodes * COMPONENTS, np.uint8)
        hangs = self._hangs
        nodes[hangs.node_components] = slots[self._rows[hangs.node_streams], hangs.node_slots]
        channels = slots[self._rows[hangs.channel_streams], hangs.channel_slots]
        return Frame(nodes.reshape(-1, COMPONENTS), channels)


def _rows(played: Patch, hangs: Patch) -> Indices:
    """Return for each stream of what hangs its row among those played; a row past the last is dark."""
    row_of = {stream.key: row for row, stream in enumerate(played.streams)}
    return np.array([row_of.get(each.key, len(row_of)) for each in hangs.streams], np.intp)
