"""How universes, slots and channels are written wherever a person reads them.

E1.31 counts universes from 1 (ANSI E1.31-2018 clause 6.2.7); Art-Net counts Port-Addresses from 0 and
also writes them Net:Sub-Net:Universe (Art-Net 4, Port-Address). Slots and channels count from 1.
"""

from streamer.display.model import SLOTS_PER_UNIVERSE, Controller, Port, Protocol
from streamer.display.slots import slots_of_string
from streamer.errors import PlanError, Problem
from streamer.wire import port_address
from streamer.wire.acn import UNIVERSE_MAX, UNIVERSE_MIN

UNIVERSE_RANGE = {
    Protocol.E131: (UNIVERSE_MIN, UNIVERSE_MAX),
    Protocol.ARTNET: (0, port_address.PORT_ADDRESS_MAX),
}
"""First and last number, by protocol."""
NUMBER_KEY = {Protocol.E131: "universe", Protocol.ARTNET: "port_address"}
"""What the display file calls the number, by protocol."""
PROTOCOL_NAME = {Protocol.E131: "E1.31", Protocol.ARTNET: "Art-Net"}


def universe_text(protocol: Protocol, number: int) -> str:
    """Return "universe 19", or "Port-Address 19 (0:1:3)"."""
    if protocol is Protocol.E131:
        return f"universe {number}"
    return f"Port-Address {port_address.text(number)}"


def slots_text(first: int, last: int) -> str:
    """Return "slot 7" or "slots 13-15"; slots from 1."""
    return f"slot {first}" if first == last else f"slots {first}-{last}"


def node_address_text(controller: Controller, port: Port, place: int) -> str:
    """Return where a node's data is: "universe 2, slots 13-15"; both universes if it is split.

    `place` is the node's place on its string, from 0, in the order in which the nodes hang.
    """
    universes, slots = slots_of_string(controller, port)
    pieces = []
    for universe in sorted(set(universes[place].tolist())):
        inside = slots[place][universes[place] == universe] + 1
        pieces.append(
            f"{universe_text(controller.protocol, universe)}, {slots_text(int(inside[0]), int(inside[-1]))}"
        )
    return " and ".join(pieces)


def channel_of(universe: int, slot: int) -> int:
    """Return the absolute channel, from 1, of an E1.31 universe and slot: (9, 104) is 4200."""
    if universe < 1 or not 1 <= slot <= SLOTS_PER_UNIVERSE:
        raise PlanError(
            [
                Problem(
                    f"universe {universe}, slot {slot}",
                    "there is no such slot",
                    f"Universes count from 1, slots from 1 to {SLOTS_PER_UNIVERSE}: universe 1, slot 1",
                )
            ]
        )
    return (universe - 1) * SLOTS_PER_UNIVERSE + slot
