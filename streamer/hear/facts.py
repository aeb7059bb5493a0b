"""What a header says: who sends which universe, and how."""

from dataclasses import dataclass
from typing import NamedTuple

from streamer.display.model import Protocol
from streamer.wire import artnet, e131
from streamer.wire.e131 import DataPacket, DiscoveryPacket, Options, SyncPacket
from streamer.wire.fields import Datagram


class Who(NamedTuple):
    """What tells one source of a universe from another.

    By the standard the CID alone does (E1.31-2018 clause 5.6); two devices with one CID are a fault that a
    listener must show, so the address is part of it here.
    """

    universe: int
    cid: str
    address: str
    physical: int | None


@dataclass(frozen=True, slots=True)
class Facts:
    """A packet of levels without its sequence number and its slots."""

    who: Who
    name: str
    priority: int | None
    """None for Art-Net."""
    sync_address: int
    is_preview: bool
    is_end: bool
    """Its source has stopped this universe."""
    start_code: int
    slots: int

    @property
    def is_levels(self) -> bool:
        """Whether its slots are levels to be looked at (6.2.6: those of a terminated packet are not)."""
        return self.start_code == e131.START_CODE_LEVELS and not self.is_end


def read(
    protocol: Protocol, datagram: Datagram, address: str
) -> Facts | SyncPacket | DiscoveryPacket | artnet.ArtSync | None:
    """Read a packet from an address; None if it is a right one of no use here. Raises PacketError."""
    if protocol is Protocol.E131:
        packet = e131.parse(datagram)
        return _of_e131(packet, address) if isinstance(packet, DataPacket) else packet
    art = artnet.parse(datagram)
    if isinstance(art, artnet.ArtDmx):
        who = Who(art.port_address, "", address, art.physical)
        return Facts(who, "", None, 0, is_preview=False, is_end=False, start_code=0, slots=len(art.slots))
    return art if isinstance(art, artnet.ArtSync) else None


def _of_e131(packet: DataPacket, address: str) -> Facts:
    return Facts(
        Who(packet.universe, str(packet.cid), address, None),
        packet.source_name,
        packet.priority,
        packet.sync_address,
        is_preview=Options.PREVIEW_DATA in packet.options,
        is_end=Options.STREAM_TERMINATED in packet.options,
        start_code=packet.start_code,
        slots=len(packet.slots),
    )
