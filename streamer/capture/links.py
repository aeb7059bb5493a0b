"""What stands before the IP packet in a capture, by its link type.

The numbers and layouts are the registry's that the pcapng format refers to: LINKTYPE_NULL and its kin, as
`man 7 pcap-linktype` lists them.
"""

import struct
from collections.abc import Callable, Mapping

NULL, ETHERNET, RAW, LOOP, COOKED, IPV4, IPV6, COOKED_2 = 0, 1, 101, 108, 113, 228, 229, 276
ETHERTYPES = frozenset({0x0800, 0x86DD})
"""IPv4 and IPv6: IEEE 802's registry."""
TAGS = frozenset({0x8100, 0x88A8})
"""A VLAN's, IEEE 802.1Q: four octets more, and the next type after them."""
TAG_OCTETS = 4
ADDRESSES_OCTETS = 12
"""Ethernet's two, before the type."""
FAMILY_OCTETS = 4
COOKED_TYPE_OCTET, COOKED_OCTETS = 14, 16
COOKED_2_OCTETS = 20
_TYPE = struct.Struct("!H")


def _after_types(octets: bytes, at: int, begin: int) -> bytes | None:
    """Return what follows a type at octet `at`, and the tags after it, None for any but IP."""
    while len(octets) >= at + _TYPE.size:
        (kind,) = _TYPE.unpack_from(octets, at)
        if kind in ETHERTYPES:
            return octets[begin:]
        if kind not in TAGS:
            return None
        at, begin = begin + TAG_OCTETS - _TYPE.size, begin + TAG_OCTETS
    return None


def _ethernet(octets: bytes) -> bytes | None:
    return _after_types(octets, ADDRESSES_OCTETS, ADDRESSES_OCTETS + _TYPE.size)


def _cooked(octets: bytes) -> bytes | None:
    return _after_types(octets, COOKED_TYPE_OCTET, COOKED_OCTETS)


def _cooked_2(octets: bytes) -> bytes | None:
    return _after_types(octets, 0, COOKED_2_OCTETS)


def _family(octets: bytes) -> bytes | None:
    return octets[FAMILY_OCTETS:]


def _bare(octets: bytes) -> bytes | None:
    return octets


LINKS: Mapping[int, Callable[[bytes], bytes | None]] = {
    NULL: _family,
    LOOP: _family,
    ETHERNET: _ethernet,
    RAW: _bare,
    IPV4: _bare,
    IPV6: _bare,
    COOKED: _cooked,
    COOKED_2: _cooked_2,
}
"""Given a frame, the packet of IP in it, or None; by link type."""
