"""Echo requests and replies as octets: RFC 792 for IPv4, RFC 4443 clause 4 for IPv6. No sockets.

octet  0     1     2         4           6                8
       type  code  checksum  identifier  sequence number  data
"""

import struct
from dataclasses import dataclass

from streamer.errors import FieldError, PacketError

HEAD = struct.Struct("!BBHHH")
"""Type, code, checksum, identifier, sequence number."""
CODE = 0
REQUEST, REPLY = 8, 0
"""RFC 792, page 14."""
REQUEST_IPV6, REPLY_IPV6 = 128, 129
"""RFC 4443 clauses 4.1 and 4.2."""
CHECKSUM_AT = slice(2, 4)
UNSET = 0
WORD_OCTETS = 2
SIXTEEN_BITS = 0xFFFF
DATA_OCTETS_MAX = 1024
"""Of a request: more than anybody needs, and well within one Ethernet frame."""
IPV4_VERSION_4, IPV4_VERSION_SHIFT, IPV4_LENGTH_MASK, IPV4_LENGTH_UNIT = 4, 4, 0x0F, 4
"""RFC 791 clause 3.1: the first octet is the version and the header's length in words of four octets."""


@dataclass(frozen=True, slots=True)
class EchoReply:
    """What came back; the data is to be the request's, unchanged."""

    identifier: int
    sequence: int
    data: bytes


def internet_checksum(octets: bytes) -> int:
    """Return RFC 1071's checksum, 0 to 65,535: the complement of the one's complement sum of 16-bit words.

    Over octets that hold their own checksum it is 0.
    """
    padded = octets + b"\0" * (len(octets) % WORD_OCTETS)
    total: int = sum(struct.unpack(f"!{len(padded) // WORD_OCTETS}H", padded))
    while total > SIXTEEN_BITS:
        total = (total & SIXTEEN_BITS) + (total >> SIXTEEN_BITS.bit_length())
    return total ^ SIXTEEN_BITS


def echo_request(identifier: int, sequence: int, data: bytes, *, is_ipv6: bool) -> bytes:
    """Return a request; identifier and sequence number 0 to 65,535, at most DATA_OCTETS_MAX of data.

    That of IPv6 has no checksum: it covers the addresses too, and the system fills it in,
    RFC 3542 clause 3.1. Raises FieldError.
    """
    for name, value in (("identifier", identifier), ("sequence number", sequence)):
        if not 0 <= value <= SIXTEEN_BITS:
            raise FieldError(name, value, f"0 to {SIXTEEN_BITS}")
    if len(data) > DATA_OCTETS_MAX:
        raise FieldError("data", f"{len(data)} octets", f"{DATA_OCTETS_MAX} octets at most")
    kind = REQUEST_IPV6 if is_ipv6 else REQUEST
    message = bytearray(HEAD.pack(kind, CODE, UNSET, identifier, sequence) + data)
    if not is_ipv6:
        message[CHECKSUM_AT] = internet_checksum(bytes(message)).to_bytes(WORD_OCTETS, "big")
    return bytes(message)


def parse_echo_reply(octets: bytes, *, is_ipv6: bool) -> EchoReply:
    """Read a reply as a socket gives it: some systems put the IPv4 header before it.

    The checksum of one of IPv6 is the system's to check. Raises PacketError for anything but a reply.
    """
    message = octets if is_ipv6 else _without_ipv4_header(octets)
    if len(message) < HEAD.size:
        raise PacketError("echo reply", 0, f"it has {len(message)} octets, and {HEAD.size} are the least")
    kind, code, _, identifier, sequence = HEAD.unpack_from(message)
    wanted = REPLY_IPV6 if is_ipv6 else REPLY
    if (kind, code) != (wanted, CODE):
        raise PacketError("type", 0, f"{kind}, code {code}, is no echo reply, {wanted}, code {CODE}")
    if not is_ipv6 and internet_checksum(message):
        raise PacketError("checksum", CHECKSUM_AT.start, "it does not fit the octets")
    return EchoReply(identifier, sequence, message[HEAD.size :])


def _without_ipv4_header(octets: bytes) -> bytes:
    # A reply begins with its type, 0, which no version of IP is.
    if not octets or octets[0] >> IPV4_VERSION_SHIFT != IPV4_VERSION_4:
        return octets
    return octets[(octets[0] & IPV4_LENGTH_MASK) * IPV4_LENGTH_UNIT :]
