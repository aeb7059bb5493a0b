"""The headers around a datagram as octets: RFC 791 for IPv4, RFC 8200 for IPv6, RFC 768 for UDP.

A socket hands over what UDP carries and who sent it, not the headers. Those written here say what is known,
and the rest as any sender's would: whole packets, identification 0 as RFC 6864 clause 4.1 allows, one hop.
"""

import socket
import struct

from streamer.capture.datagram import Datagram
from streamer.errors import PacketError
from streamer.net.destinations import Destination, is_ipv6
from streamer.net.icmp import internet_checksum

IPV4 = struct.Struct("!BBHHHBBH4s4s")
"""Version and header length, service, length, identification, flags and offset, hops, protocol, checksum."""
IPV6 = struct.Struct("!IHBB16s16s")
"""Version, class and flow; what follows in octets, its protocol, hops, source, destination."""
UDP = struct.Struct("!HHHH")
"""Source port, destination port, length, checksum."""
PSEUDO_IPV6 = struct.Struct("!16s16sI3xB")
"""RFC 8200 clause 8.1."""
PSEUDO_IPV4 = struct.Struct("!4s4sxBH")
"""RFC 768."""
IPV4_HEAD = 0x45
"""Version 4, and a header of five words of four octets."""
IPV6_HEAD = 6 << 28
DO_NOT_FRAGMENT, FRAGMENT_MASK = 0x4000, 0x3FFF
"""Of IPv4's flags and offset: RFC 791 clause 3.1. Any bit of the mask is set in a fragment alone."""
HOPS = 1
"""RFC 1112 clause 6.1."""
NO_CHECKSUM, IS_ZERO = 0, 0xFFFF
"""RFC 768: none was made; and what a checksum of zero is sent as."""
VERSION_SHIFT, LENGTH_MASK, LENGTH_UNIT = 4, 0x0F, 4
CHECKSUM_AT_IPV4 = slice(10, 12)


def ip_packet(datagram: Datagram) -> bytes:
    """Return the IPv4 or IPv6 packet that carries a datagram, both ends of the same version."""
    (source, from_port), (destination, to_port) = datagram.source, datagram.destination
    length = UDP.size + len(datagram.octets)
    if is_ipv6(destination):
        ends = socket.inet_pton(socket.AF_INET6, source), socket.inet_pton(socket.AF_INET6, destination)
        pseudo = PSEUDO_IPV6.pack(*ends, length, socket.IPPROTO_UDP)
        head = IPV6.pack(IPV6_HEAD, length, socket.IPPROTO_UDP, HOPS, *ends)
    else:
        ends = socket.inet_aton(source), socket.inet_aton(destination)
        pseudo = PSEUDO_IPV4.pack(*ends, socket.IPPROTO_UDP, length)
        head = _ipv4_head(IPV4.size + length, *ends)
    bare = UDP.pack(from_port, to_port, length, NO_CHECKSUM)
    checksum = internet_checksum(pseudo + bare + datagram.octets) or IS_ZERO
    return head + UDP.pack(from_port, to_port, length, checksum) + datagram.octets


def _ipv4_head(octets: int, source: bytes, destination: bytes) -> bytes:
    fields = (IPV4_HEAD, 0, octets, 0, DO_NOT_FRAGMENT, HOPS, socket.IPPROTO_UDP)
    head = bytearray(IPV4.pack(*fields, NO_CHECKSUM, source, destination))
    head[CHECKSUM_AT_IPV4] = internet_checksum(bytes(head)).to_bytes(2, "big")
    return bytes(head)


def read_ip_packet(octets: bytes, stamp_ns: int) -> Datagram | None:
    """Return the datagram that a packet carries, None where it carries no whole one of UDP.

    Raises PacketError for what is no packet of IP, or one that was cut short.
    """
    version = octets[0] >> VERSION_SHIFT if octets else 0
    match version:
        case 4:
            return _read_ipv4(octets, stamp_ns)
        case 6:
            return _read_ipv6(octets, stamp_ns)
    raise PacketError("version", 0, f"{version} is neither 4 nor 6")


def _read_ipv4(octets: bytes, stamp_ns: int) -> Datagram | None:
    _expect(octets, IPV4.size)
    first, _, length, _, fragment, _, protocol, _, source, destination = IPV4.unpack_from(octets)
    header = (first & LENGTH_MASK) * LENGTH_UNIT
    if protocol != socket.IPPROTO_UDP or fragment & FRAGMENT_MASK:
        return None
    if header < IPV4.size or length < header:
        raise PacketError("length", 0, f"{length} octets, {header} of them the header's, cannot be")
    _expect(octets, length)
    ends = socket.inet_ntoa(source), socket.inet_ntoa(destination)
    return _read_udp(octets[header:length], *ends, stamp_ns)


def _read_ipv6(octets: bytes, stamp_ns: int) -> Datagram | None:
    _expect(octets, IPV6.size)
    _, length, following, _, source, destination = IPV6.unpack_from(octets)
    if following != socket.IPPROTO_UDP:
        return None
    _expect(octets, IPV6.size + length)
    ends = socket.inet_ntop(socket.AF_INET6, source), socket.inet_ntop(socket.AF_INET6, destination)
    return _read_udp(octets[IPV6.size : IPV6.size + length], *ends, stamp_ns)


def _read_udp(octets: bytes, source: str, destination: str, stamp_ns: int) -> Datagram:
    _expect(octets, UDP.size)
    from_port, to_port, length, _ = UDP.unpack_from(octets)
    if length < UDP.size:
        raise PacketError("length", 4, f"{length} octets of UDP cannot be")
    _expect(octets, length)
    ends: tuple[Destination, Destination] = (source, from_port), (destination, to_port)
    return Datagram(stamp_ns, *ends, octets[UDP.size : length])


def _expect(octets: bytes, least: int) -> None:
    if len(octets) < least:
        raise PacketError("length", 0, f"{len(octets)} octets of at least {least} are there")
