"""A string as it really hangs on a data line: what its nodes make of the octets that come down to them."""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from patterns.plain import COMPONENTS, Bytes
from streamer.display.model import Port
from streamer.yard.faults import (
    Break,
    DeadColour,
    DeadNode,
    Fault,
    Flicker,
    Grouped,
    NodeCount,
    Skipped,
    StuckNode,
    Turned,
    WrongOrder,
)

LIGHTS = "RGBW"
"""A frame's components, in their order."""
LIT = 255
LIGHTS_OF = {
    "red": [LIT, 0, 0, 0], "green": [0, LIT, 0, 0], "blue": [0, 0, LIT, 0], "white": [LIT, LIT, LIT, 0],
}  # fmt: skip
BEATS = 4
"""A flickering node is dark in one beat of so many; which one differs from node to node."""


@dataclass(slots=True)
class HangingString:
    """So many nodes in series, the first of which takes its octets off the line and passes on the rest."""

    nodes: int
    """That really hang there."""
    planned: int
    skip: int
    """Nodes between the port and the string, which take octets and stay dark."""
    colour_order: str
    """In which the nodes take their octets."""
    is_fed_at_end: bool
    """The last node is the first on the line."""
    last_with_data: int | None = None
    """The node after which the line is broken, 0 for a line that brings nothing; None when it is whole."""
    dead: set[int] = field(default_factory=set)
    dead_colours: set[tuple[int, str]] = field(default_factory=set)
    stuck: dict[int, str] = field(default_factory=dict)
    group: int = 1
    """So many lights act as one node."""
    flickers_from: int | None = None
    beat: int = 0
    """Counts on with the time; a flickering node goes by it."""

    def shown(self, line: Bytes) -> Bytes:
        """Return what the nodes show, an (n, 4) array in hanging order, for the octets on the line.

        A node that gets no data, or not all of its octets, is dark as after power-on. A real one keeps
        what it showed when its data stopped (common practice, no source).
        """
        width = len(self.colour_order)
        whole = len(line) // width
        taken = line[: whole * width].reshape(whole, width)[self.skip :]
        taken = np.repeat(taken, self.group, axis=0)[: self.nodes]
        lit = np.zeros((self.nodes, COMPONENTS), np.uint8)
        for octet, colour in enumerate(self.colour_order):
            lit[: len(taken), LIGHTS.index(colour)] = taken[:, octet]
        if self.is_fed_at_end:
            lit = lit[::-1].copy()
        self._flicker(lit)
        self._break(lit)
        self._single_nodes(lit)
        return lit

    def _single_nodes(self, lit: Bytes) -> None:
        for node, colour in self.stuck.items():
            lit[node - 1] = LIGHTS_OF[colour]
        for node, light in self.dead_colours:
            lit[node - 1, LIGHTS.index(light[0].upper())] = 0
        for node in self.dead:
            lit[node - 1] = 0

    def _flicker(self, lit: Bytes) -> None:
        if self.flickers_from is not None:
            nodes = np.arange(1, self.nodes + 1)
            beyond = nodes <= self.flickers_from if self.is_fed_at_end else nodes >= self.flickers_from
            lit[beyond & ((nodes + self.beat) % BEATS == 0)] = 0

    def _break(self, lit: Bytes) -> None:
        if self.last_with_data == 0:
            lit[:] = 0
        elif self.last_with_data is not None and self.is_fed_at_end:
            lit[: self.last_with_data - 1] = 0
        elif self.last_with_data is not None:
            lit[self.last_with_data :] = 0

    def in_plan(self, lit: Bytes) -> Bytes:
        """Return what the planned nodes show: those that are missing are dark, those beyond are left out."""
        seen = np.zeros((self.planned, COMPONENTS), np.uint8)
        there = min(self.planned, self.nodes)
        seen[:there] = lit[:there]
        return seen


def string_of(  # noqa: C901  what each kind does is a table, not a tangle
    port: Port, faults: Iterable[Fault]
) -> HangingString:
    """Return the string planned for a port, with the faults that lie in it."""
    string = HangingString(port.nodes, port.nodes, port.skip, port.colour_order, port.reversed)
    for fault in faults:
        match fault:
            case NodeCount(nodes=nodes):
                string.nodes = nodes
            case WrongOrder(colour_order=order):
                string.colour_order = order
            case Turned():
                string.is_fed_at_end = not string.is_fed_at_end
            case Break(after=node):
                string.last_with_data = node
            case DeadNode(node=node):
                string.dead.add(node)
            case DeadColour(node=node, light=light):
                string.dead_colours.add((node, light))
            case StuckNode(node=node, colour=colour):
                string.stuck[node] = colour
            case Skipped(by=by):
                string.skip += by
            case Grouped(lights=lights):
                string.group = lights
            case Flicker(node=node):
                string.flickers_from = node
    return string
