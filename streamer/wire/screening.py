"""Many datagrams judged at once: those that `e131.parse` or `artnet.parse` would surely discard.

It spares the parsers a flood: what passes here may still be wrong, what does not pass is. Datagrams are
rows of an array, `lengths` says how long each is; a row must hold what is looked at here.
"""

import numpy as np
from numpy.typing import NDArray

from streamer.wire import acn, art_header, artnet, e131, e131_extended, port_address

Octets = NDArray[np.uint8]
Lengths = NDArray[np.int64]
Flags = NDArray[np.bool_]

LEAST_OCTETS = e131.SLOTS_OCTET
"""Rows are at least so wide, whatever the datagrams are."""


def may_be_e131(octets: Octets, lengths: Lengths) -> Flags:
    """Say which may be packets of ANSI E1.31-2018; (N, LEAST_OCTETS or more) and (N,) to (N,)."""
    start = (
        acn.PREAMBLE_SIZE.to_bytes(2, "big")
        + acn.POSTAMBLE_SIZE.to_bytes(2, "big")
        + acn.ACN_PACKET_IDENTIFIER
    )
    is_acn = _equals(octets, acn.PREAMBLE_SIZE_OCTET, start) & (lengths >= acn.FRAMING_FIELDS_OCTET)
    root, framing = (_number(octets, at, 4) for at in (acn.ROOT_VECTOR_OCTET, acn.FRAMING_VECTOR_OCTET))
    is_data = (root == acn.VECTOR_ROOT_E131_DATA) & (framing == e131.VECTOR_DATA)
    is_sync = framing == e131_extended.VECTOR_SYNCHRONIZATION
    is_discovery = framing == e131_extended.VECTOR_DISCOVERY
    is_extended = (root == acn.VECTOR_ROOT_E131_EXTENDED) & (is_sync | is_discovery)
    return np.asarray(is_acn & (is_extended | is_data & _may_be_data(octets, lengths)))


def _may_be_data(octets: Octets, lengths: Lengths) -> Flags:
    """Check clauses 6.2 and 7.1 to 7.6."""
    count = _number(octets, e131.PROPERTY_VALUE_COUNT_OCTET, 2)
    end = e131.START_CODE_OCTET + count
    universe = _number(octets, e131.UNIVERSE_OCTET, 2)
    fixed = (
        bytes([e131.VECTOR_DMP_SET_PROPERTY, e131.ADDRESS_AND_DATA_TYPE])
        + e131.FIRST_PROPERTY_ADDRESS.to_bytes(2, "big")
        + e131.ADDRESS_INCREMENT.to_bytes(2, "big")
    )
    is_whole = (lengths >= end) & (count >= 1) & (count <= e131.SLOTS_MAX + 1)
    for at in (acn.ROOT_LENGTH_OCTET, acn.FRAMING_LENGTH_OCTET, e131.DMP_LENGTH_OCTET):
        word = _number(octets, at, 2)
        is_whole &= (word >> acn.LENGTH_BITS == acn.LENGTH_FLAGS) & (at + (word & acn.LENGTH_MASK) == end)
    return (
        is_whole
        & _equals(octets, e131.DMP_VECTOR_OCTET, fixed)
        & (octets[:, e131.PRIORITY_OCTET] <= e131.PRIORITY_MAX)
        & (_number(octets, e131.SYNC_ADDRESS_OCTET, 2) <= acn.UNIVERSE_MAX)
        & (universe >= acn.UNIVERSE_MIN)
        & (universe <= acn.UNIVERSE_MAX)
    )


def may_be_artnet(octets: Octets, lengths: Lengths) -> Flags:
    """Say which may be ArtDmx or ArtSync of Art-Net 4; (N, LEAST_OCTETS or more) and (N,) to (N,)."""
    is_artnet = _equals(octets, art_header.ID_OCTET, art_header.ID)
    version = _number(octets, art_header.PROT_VER_OCTET, 2)
    op_code = _number(octets[:, ::-1], octets.shape[1] - art_header.OP_CODE_OCTET - 2, 2)
    length = _number(octets, artnet.LENGTH_OCTET, 2)
    address = _number(octets[:, ::-1], octets.shape[1] - artnet.PORT_ADDRESS_OCTET - 2, 2)
    is_dmx = (
        (op_code == art_header.OpCode.DMX)
        & (lengths >= artnet.SLOTS_OCTET + length)
        & (length >= artnet.SLOTS_MIN)
        & (length <= artnet.SLOTS_MAX)
        & (length % 2 == 0)
        & (address <= port_address.PORT_ADDRESS_MAX)
    )
    is_sync = (op_code == art_header.OpCode.SYNC) & (lengths >= artnet.SYNC_OCTETS)
    return np.asarray(is_artnet & (version >= art_header.PROT_VER) & (is_dmx | is_sync))


def is_other_artnet(octets: Octets, lengths: Lengths) -> Flags:
    """Say which are Art-Net by their ID but neither ArtDmx nor ArtSync: polls, replies and the like."""
    op_code = _number(octets[:, ::-1], octets.shape[1] - art_header.OP_CODE_OCTET - 2, 2)
    is_artnet = _equals(octets, art_header.ID_OCTET, art_header.ID) & (lengths >= art_header.PROT_VER_OCTET)
    return np.asarray(is_artnet & (op_code != art_header.OpCode.DMX) & (op_code != art_header.OpCode.SYNC))


def _equals(octets: Octets, at: int, wanted: bytes) -> Flags:
    return np.asarray((octets[:, at : at + len(wanted)] == np.frombuffer(wanted, np.uint8)).all(axis=1))


def _number(octets: Octets, at: int, size: int) -> NDArray[np.int64]:
    """Return the number at an octet, high octet first."""
    number = np.zeros(len(octets), np.int64)
    for column in range(at, at + size):
        number = number << 8 | octets[:, column]
    return number
