"""Art-Net 4: levels, synchronization, and one `parse` for every kind of packet that is read here.

Timing and addressing are the sender's business; what a receiver makes of packets is in `artnet_reception`.
"""

from dataclasses import dataclass
from struct import Struct

from streamer.errors import FieldError, PacketError
from streamer.wire import art_header, port_address
from streamer.wire.art_header import OP_CODE_OCTET, PORT, OpCode
from streamer.wire.art_poll import ArtPoll, PollFlags, read_poll
from streamer.wire.art_poll_reply import (
    ArtPollReply,
    NodeReport,
    PortTypes,
    parse_node_report,
    read_poll_reply,
)
from streamer.wire.fields import OCTET_MAX, Datagram, check_range, expect_range

__all__ = [
    "PORT",
    "ArtDmx",
    "ArtPoll",
    "ArtPollReply",
    "ArtSync",
    "NodeReport",
    "OpCode",
    "PollFlags",
    "PortTypes",
    "parse",
    "parse_node_report",
]

SEQUENCE_OCTET = 12
PHYSICAL_OCTET = 13
PORT_ADDRESS_OCTET = 14
"""SubUni, then Net: the Port-Address, low octet first."""
LENGTH_OCTET = 16
"""High octet first."""
SLOTS_OCTET = 18
"""ArtDmx."""
SLOTS_MIN = 2
SLOTS_MAX = 512
"""ArtDmx: the number of slots is even."""

SYNC_OCTETS = 14

_DMX_ADDRESS = Struct("<BBH")
_DMX_LENGTH = Struct(">H")
_AUX = bytes(2)


@dataclass(frozen=True, slots=True)
class ArtDmx:
    """The levels of one Port-Address."""

    port_address: int
    """0 to 32767."""
    slots: bytes
    """2 to 512, an even number."""
    sequence: int = 0
    """1 to 255; 0 says that packets are not numbered."""
    physical: int = 0
    """The sender's input port, 0 to 255: for information, and to tell two sources at one address apart."""

    def encode(self) -> bytes:
        """Return the 18 + n octets for n slots, or raise FieldError."""
        port_address.check(self.port_address)
        check_range("Sequence", self.sequence, 0, OCTET_MAX)
        check_range("Physical", self.physical, 0, OCTET_MAX)
        if not SLOTS_MIN <= len(self.slots) <= SLOTS_MAX or len(self.slots) % 2:
            raise FieldError("Length", len(self.slots), f"an even number, {SLOTS_MIN} to {SLOTS_MAX}")
        return (
            art_header.header(OpCode.DMX)
            + _DMX_ADDRESS.pack(self.sequence, self.physical, self.port_address)
            + _DMX_LENGTH.pack(len(self.slots))
            + self.slots
        )


@dataclass(frozen=True, slots=True)
class ArtSync:
    """Tells nodes to act on the levels that they hold."""

    def encode(self) -> bytes:
        """Return the 14 octets."""
        return art_header.header(OpCode.SYNC) + _AUX


def parse(datagram: Datagram) -> ArtDmx | ArtSync | ArtPoll | ArtPollReply:
    """Read a received datagram; raise PacketError, and nothing else, if it must be discarded.

    Discarded is also a packet of any other OpCode, and an ArtDmx with an odd Length or bit 15 of its
    Port-Address set. Octets after the packet are ignored: later versions may add fields.
    """
    op_code = art_header.read_op_code(datagram)
    match op_code:
        case OpCode.DMX:
            return _read_dmx(datagram)
        case OpCode.SYNC:
            art_header.expect_header(datagram, SYNC_OCTETS)
            return ArtSync()
        case OpCode.POLL:
            return read_poll(datagram)
        case OpCode.POLL_REPLY:
            return read_poll_reply(datagram)
        case _:
            raise PacketError("OpCode", OP_CODE_OCTET, f"{op_code:#06x} is none of those read here")


def _read_dmx(datagram: Datagram) -> ArtDmx:
    art_header.expect_header(datagram, SLOTS_OCTET)
    sequence, physical, address = _DMX_ADDRESS.unpack_from(datagram, SEQUENCE_OCTET)
    expect_range("Port-Address", PORT_ADDRESS_OCTET, address, 0, port_address.PORT_ADDRESS_MAX)
    (length,) = _DMX_LENGTH.unpack_from(datagram, LENGTH_OCTET)
    expect_range("Length", LENGTH_OCTET, length, SLOTS_MIN, SLOTS_MAX)
    if length % 2:
        raise PacketError("Length", LENGTH_OCTET, f"{length} is odd")
    slots = bytes(datagram[SLOTS_OCTET : SLOTS_OCTET + length])
    if len(slots) < length:
        raise PacketError("Length", LENGTH_OCTET, f"is {length}, but only {len(slots)} slots follow")
    return ArtDmx(address, slots, sequence, physical)
