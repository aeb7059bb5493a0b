"""A virtual controller's ports: which slots each reads, in the order in which it puts them on its data line.

Written as a controller's firmware does it, walking a slot pointer node by node, and on purpose without the
arithmetic of `streamer.display.slots`: the yard is the independent check of the patch.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from streamer.display.model import SLOTS_PER_UNIVERSE, Addressing, Controller, Port
from streamer.yard.faults import Fault, NodeCount, OtherAddressing, WrongSlot, WrongUniverse

START_CODE_SLOT = 0
"""ANSI E1.11: the START code goes before slot 1; for levels it is 0, so it reads as dark."""


@dataclass(frozen=True, slots=True)
class PortSettings:
    """What a port of a controller is set to. A port knows how many octets a node takes, not their colours."""

    universe: int
    slot: int
    """Of the first node, from 1."""
    octets_per_node: int
    nodes: int
    """Nodes that it drives, the skipped ones included."""
    addressing: Addressing

    def octets(self) -> Iterator[tuple[int, int]]:
        """Yield the universe and the slot, from 1, of each octet on the line, first out first.

        A slot below 1 stands for an octet that the port puts out as 0.
        """
        universe, slot = self.universe, self.slot
        if self.addressing is Addressing.PACKED:
            # Channels are counted over all universes, so a slipped start may lie in the one before or after.
            universe, slot = universe + (slot - 1) // SLOTS_PER_UNIVERSE, (slot - 1) % SLOTS_PER_UNIVERSE + 1
        for _ in range(self.nodes):
            if self.addressing is Addressing.ALIGNED and slot + self.octets_per_node - 1 > SLOTS_PER_UNIVERSE:
                universe, slot = universe + 1, 1
            for _ in range(self.octets_per_node):
                yield universe, max(slot, START_CODE_SLOT)
                slot += 1
                if slot > SLOTS_PER_UNIVERSE:
                    universe, slot = universe + 1, 1


def settings_of(controller: Controller, port: Port, faults: Iterable[Fault]) -> PortSettings:
    """Return what a port is set to: the plan, and the faults that lie in the controller."""
    universe, slot, nodes, addressing = port.universe, port.slot, port.nodes, controller.addressing
    for fault in faults:
        match fault:
            case WrongUniverse(by=by):
                universe += by
            case WrongSlot(by=by):
                slot += by
            case NodeCount(nodes=count):
                nodes = count
            case OtherAddressing():
                is_aligned = addressing is Addressing.ALIGNED
                addressing = Addressing.PACKED if is_aligned else Addressing.ALIGNED
    return PortSettings(universe, slot, len(port.colour_order), port.skip + nodes, addressing)
