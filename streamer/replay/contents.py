"""What in a capture is levels or synchronization, and may be streamed again."""

from dataclasses import dataclass, replace

from streamer.capture.datagram import Datagram
from streamer.display.model import Protocol
from streamer.errors import PacketError
from streamer.net.destinations import Destination
from streamer.wire import artnet, e131, port_address
from streamer.wire.artnet import ArtDmx, ArtSync
from streamer.wire.e131 import DataPacket, Options, SyncPacket

ART_SEQUENCE_MIN, SEQUENCES = 1, 256
"""Art-Net 4, ArtDmx: 0 says that packets are not numbered, so that 1 follows 255."""


@dataclass(frozen=True, slots=True)
class Stream:
    """One universe from one source to one place."""

    protocol: Protocol
    source: str
    """The CID, or the address for Art-Net."""
    universe: int
    destination: Destination

    def __str__(self) -> str:
        """Return it as a person reads it."""
        if self.protocol is Protocol.E131:
            return f"universe {self.universe}"
        return f"Port-Address {port_address.text(self.universe)}"


Levels = DataPacket | ArtDmx
Playable = Levels | SyncPacket | ArtSync


def playable(datagram: Datagram) -> Playable | None:
    """Return the packet in a datagram if it is to be streamed again: no poll, reply or list of universes."""
    try:
        match datagram.destination[1]:
            case e131.PORT:
                packet: object = e131.parse(datagram.octets)
            case artnet.PORT:
                packet = artnet.parse(datagram.octets)
            case _:
                return None
    except PacketError:
        return None
    return packet if isinstance(packet, Playable) else None


def stream_of(packet: Levels, datagram: Datagram) -> Stream:
    """Return which stream a packet belongs to."""
    if isinstance(packet, DataPacket):
        return Stream(Protocol.E131, str(packet.cid), packet.universe, datagram.destination)
    return Stream(Protocol.ARTNET, datagram.source[0], packet.port_address, datagram.destination)


def has_levels(packet: Levels) -> bool:
    """Whether lights follow it: not another START code's data, a preview, or the end of a stream."""
    if isinstance(packet, ArtDmx):
        return True
    is_end_or_preview = packet.options & (Options.STREAM_TERMINATED | Options.PREVIEW_DATA)
    return packet.start_code == e131.START_CODE_LEVELS and not is_end_or_preview


def is_end(packet: Levels) -> bool:
    """Whether it ends its stream: ANSI E1.31-2018 clause 6.2.6."""
    return isinstance(packet, DataPacket) and bool(packet.options & Options.STREAM_TERMINATED)


def darkened(packet: Levels) -> Levels:
    """Return the packet that follows one in its stream, with every slot 0 and not synchronized."""
    dark = bytes(len(packet.slots))
    if isinstance(packet, ArtDmx):
        following = packet.sequence % (SEQUENCES - 1) + ART_SEQUENCE_MIN if packet.sequence else 0
        return replace(packet, slots=dark, sequence=following)
    sequence = (packet.sequence + 1) % SEQUENCES
    return replace(
        packet,
        slots=dark or bytes(1),
        sequence=sequence,
        start_code=e131.START_CODE_LEVELS,
        sync_address=e131.SYNC_ADDRESS_NONE,
        options=e131.NO_OPTIONS,
    )


def terminated(packet: DataPacket) -> DataPacket:
    """Return the packet that follows one in its stream and ends it."""
    sequence = (packet.sequence + 1) % SEQUENCES
    return replace(packet, sequence=sequence, options=Options.STREAM_TERMINATED)
