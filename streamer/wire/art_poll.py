"""Art-Net 4's ArtPoll: a controller asks every device who it is. Import it from `streamer.wire.artnet`."""

from dataclasses import dataclass
from enum import IntFlag
from struct import Struct

from streamer.errors import FieldError
from streamer.wire import art_header, port_address
from streamer.wire.fields import OCTET_MAX, WORD_MAX, Datagram, check_range

POLL_OCTETS = 22
POLL_LEAST_OCTETS = 12
"""Fields that an older sender leaves out count as zero."""

_FIELDS = Struct(">BBHHHH")


class PollFlags(IntFlag):
    """ArtPoll's Flags. Bits 7, 6 and 0 are unused: sent as 0, ignored on receipt."""

    TARGETED = 0x20
    """Only nodes with a Port-Address in the target range answer."""
    NO_VLC = 0x10
    DIAGNOSTICS_UNICAST = 0x08
    DIAGNOSTICS = 0x04
    REPLY_ON_CHANGE = 0x02
    """Nodes send an ArtPollReply, unasked, whenever something about them changes."""


NO_POLL_FLAGS = PollFlags(0)
POLL_FLAGS_MASK = (
    PollFlags.TARGETED
    | PollFlags.NO_VLC
    | PollFlags.DIAGNOSTICS_UNICAST
    | PollFlags.DIAGNOSTICS
    | PollFlags.REPLY_ON_CHANGE
)


@dataclass(frozen=True, slots=True)
class ArtPoll:
    """The question; without arguments it asks everybody, once, and wants no diagnostics."""

    flags: PollFlags = NO_POLL_FLAGS
    diag_priority: int = 0
    """The lowest wanted: 0x10 low, 0x40 medium, 0x80 high, 0xE0 critical, 0xF0 volatile."""
    target_top: int = 0
    target_bottom: int = 0
    """The Port-Addresses asked for, both inclusive, in targeted mode only."""
    esta: int = 0
    """The sender's manufacturer code."""
    oem: int = 0
    """The sender's product code."""

    def encode(self) -> bytes:
        """Return the 22 octets, or raise FieldError."""
        if self.flags | POLL_FLAGS_MASK != POLL_FLAGS_MASK:
            raise FieldError("Flags", self.flags, "the flags of PollFlags")
        check_range("DiagPriority", self.diag_priority, 0, OCTET_MAX)
        port_address.check(self.target_top)
        port_address.check(self.target_bottom)
        check_range("EstaMan", self.esta, 0, WORD_MAX)
        check_range("Oem", self.oem, 0, WORD_MAX)
        return art_header.header(art_header.OpCode.POLL) + _FIELDS.pack(
            self.flags, self.diag_priority, self.target_top, self.target_bottom, self.esta, self.oem
        )


def read_poll(datagram: Datagram) -> ArtPoll:
    """Read an ArtPoll, or raise PacketError."""
    art_header.expect_header(datagram, POLL_LEAST_OCTETS)
    whole = bytes(datagram[:POLL_OCTETS]).ljust(POLL_OCTETS, b"\0")
    flags, *others = _FIELDS.unpack_from(whole, art_header.FIELDS_OCTET)
    return ArtPoll(PollFlags(flags & POLL_FLAGS_MASK), *others)
