"""What releases the levels that receivers hold: E1.31 a universe's group, Art-Net a network's nodes."""

from typing import NamedTuple

from streamer.display.model import Controller, Protocol
from streamer.wire.e131 import SYNC_ADDRESS_NONE


class Signal(NamedTuple):
    """Whom a synchronization packet is for."""

    protocol: Protocol
    sync_address: int = SYNC_ADDRESS_NONE
    """E1.31: the universe of the packets and of their group (ANSI E1.31-2018 clause 6.2.4)."""
    address: str = ""
    """Art-Net: the controller in whose network it is broadcast."""


def signal_of(controller: Controller) -> Signal | None:
    """Return what releases a controller's levels; None where they are shown as they come."""
    if controller.art_sync:
        return Signal(Protocol.ARTNET, address=controller.address)
    if controller.sync_address != SYNC_ADDRESS_NONE:
        return Signal(Protocol.E131, controller.sync_address)
    return None
