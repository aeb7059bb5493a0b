"""What the packets of ANSI E1.31-2018 share: the ACN root layer (clause 5), lengths, the source name.

Octets count from 0 at the start of the UDP payload. All words are sent high octet first.
"""

from collections.abc import Mapping
from statistics import mode
from struct import Struct
from uuid import UUID

from streamer.errors import PacketError
from streamer.wire.fields import Datagram, check_range, expect, expect_range, expect_size, text_octets

PREAMBLE_SIZE = 0x0010
"""Clause 5.1."""
POSTAMBLE_SIZE = 0x0000
"""Clause 5.2."""
ACN_PACKET_IDENTIFIER = b"ASC-E1.17\0\0\0"
"""Clause 5.3."""
VECTOR_ROOT_E131_DATA = 0x00000004
"""Clause 5.5: the framing layer holds levels."""
VECTOR_ROOT_E131_EXTENDED = 0x00000008
"""Clause 5.5: the framing layer holds synchronization or universe discovery."""

PREAMBLE_SIZE_OCTET = 0
POSTAMBLE_SIZE_OCTET = 2
ACN_PACKET_IDENTIFIER_OCTET = 4
ROOT_LENGTH_OCTET = 16
ROOT_VECTOR_OCTET = 18
CID_OCTET = 22
FRAMING_LENGTH_OCTET = 38
FRAMING_VECTOR_OCTET = 40
"""Tables 4-1 to 4-3: the root and framing layers begin alike in every packet."""

SOURCE_NAME_OCTETS = 64
"""Clause 6.2.2: UTF-8, zero-terminated, so 63 octets of text."""
UNIVERSE_MIN = 1
UNIVERSE_MAX = 63999
"""Clauses 6.2.7 and 9.1.1: the others are reserved."""

LENGTH_FLAGS = 0x7
LENGTH_BITS = 12
LENGTH_MASK = (1 << LENGTH_BITS) - 1

_ROOT_LAYER = Struct(">HH12sHI16s")
_FRAMING_START = Struct(">HI")
FRAMING_FIELDS_OCTET = FRAMING_LENGTH_OCTET + _FRAMING_START.size
"""Where the fields begin that differ between the kinds of packet."""


def flags_and_length(size_octets: int, layer_octet: int) -> int:
    """Return the word at `layer_octet`; a length counts from its own word to the packet's end (5.4)."""
    return LENGTH_FLAGS << LENGTH_BITS | size_octets - layer_octet


def layer_end(datagram: Datagram, layer_octet: int) -> int:
    """Return the octet after a layer by the flags and length word at `layer_octet`, or raise PacketError."""
    word = int.from_bytes(datagram[layer_octet : layer_octet + 2], "big")
    expect("flags", layer_octet, word >> LENGTH_BITS, LENGTH_FLAGS)
    return layer_octet + (word & LENGTH_MASK)


def agreed_end(datagram: Datagram, ends: Mapping[int, int]) -> int:
    """Return where the packet ends, which all its length words must agree on.

    `ends` maps the octet of each word to the end that follows from it; PacketError names the word
    that differs from the rest. Octets after the end are no part of the packet and are ignored.
    """
    end = mode(ends.values())
    for octet, differing in ends.items():
        if differing != end:
            raise PacketError("length", octet, f"ends the packet at octet {differing}, the others at {end}")
    expect_size(datagram, end)
    return end


def start_of_packet(size_octets: int, root_vector: int, cid: UUID, framing_vector: int) -> bytes:
    """Return octets 0 to 43: the root layer and the start of the framing layer."""
    return _ROOT_LAYER.pack(
        PREAMBLE_SIZE,
        POSTAMBLE_SIZE,
        ACN_PACKET_IDENTIFIER,
        flags_and_length(size_octets, ROOT_LENGTH_OCTET),
        root_vector,
        cid.bytes,
    ) + _FRAMING_START.pack(flags_and_length(size_octets, FRAMING_LENGTH_OCTET), framing_vector)


def read_start_of_packet(datagram: Datagram) -> tuple[int, UUID, int]:
    """Return the root vector, the CID and the framing vector, or raise PacketError (clauses 5.1 to 5.3)."""
    expect_size(datagram, FRAMING_FIELDS_OCTET)
    preamble, postamble, identifier, _, root_vector, cid = _ROOT_LAYER.unpack_from(datagram)
    expect("preamble size", PREAMBLE_SIZE_OCTET, preamble, PREAMBLE_SIZE)
    expect("post-amble size", POSTAMBLE_SIZE_OCTET, postamble, POSTAMBLE_SIZE)
    expect("ACN packet identifier", ACN_PACKET_IDENTIFIER_OCTET, identifier, ACN_PACKET_IDENTIFIER)
    _, framing_vector = _FRAMING_START.unpack_from(datagram, FRAMING_LENGTH_OCTET)
    return root_vector, UUID(bytes=cid), framing_vector


def check_universe(field: str, universe: int) -> None:
    """Raise FieldError for a universe number that clause 6.2.7 reserves."""
    check_range(field, universe, UNIVERSE_MIN, UNIVERSE_MAX)


def expect_universe(field: str, octet: int, universe: int) -> None:
    """Raise PacketError for a received universe number that clause 6.2.7 reserves."""
    expect_range(field, octet, universe, UNIVERSE_MIN, UNIVERSE_MAX)


def source_name_octets(source_name: str) -> bytes:
    """Return a source name's octets (6.2.2), or raise FieldError."""
    return text_octets("source name", source_name, SOURCE_NAME_OCTETS, "UTF-8")
