"""What Art-Net 4's packets begin with: the ID, the OpCode and the protocol version.

The OpCode is sent low octet first, the version high octet first. Octets count from 0 at the start of
the UDP payload.
"""

from enum import IntEnum
from struct import Struct

from streamer.wire.fields import WORD_MAX, Datagram, expect, expect_range, expect_size

PORT = 6454
"""0x1936: the UDP port that every Art-Net packet is sent to."""
ID = b"Art-Net\0"
PROT_VER = 14
"""The version of Art-Net 4; later ones must be accepted."""

ID_OCTET = 0
OP_CODE_OCTET = 8
PROT_VER_OCTET = 10
FIELDS_OCTET = 12
"""Where each packet's own fields begin, except in ArtPollReply: it has no version, its own begin at 10."""


class OpCode(IntEnum):
    """The packets that are read and written here."""

    POLL = 0x2000
    POLL_REPLY = 0x2100
    DMX = 0x5000
    SYNC = 0x5200


_ID_AND_OP_CODE = Struct("<8sH")
_PROT_VER = Struct(">H")


def id_and_op_code(op_code: OpCode) -> bytes:
    """Return octets 0 to 9."""
    return _ID_AND_OP_CODE.pack(ID, op_code)


def header(op_code: OpCode) -> bytes:
    """Return octets 0 to 11."""
    return id_and_op_code(op_code) + _PROT_VER.pack(PROT_VER)


def read_op_code(datagram: Datagram) -> int:
    """Return a datagram's OpCode, or raise PacketError if it is not Art-Net."""
    expect_size(datagram, PROT_VER_OCTET)
    identity, op_code = _ID_AND_OP_CODE.unpack_from(datagram)
    expect("ID", ID_OCTET, identity, ID)
    return int(op_code)


def expect_header(datagram: Datagram, least_octets: int) -> None:
    """Raise PacketError unless the version is 14 or later and at least so many octets are there."""
    expect_size(datagram, least_octets)
    (version,) = _PROT_VER.unpack_from(datagram, PROT_VER_OCTET)
    expect_range("ProtVer", PROT_VER_OCTET, version, PROT_VER, WORD_MAX)
