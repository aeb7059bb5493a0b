"""Which sockets of a UDP port hear IPv4 and IPv6 at once, as a listener's does: asked of Linux itself.

No library that we keep tells it. By sock_diag(7) over a socket of netlink(7); numbers from `linux/netlink.h`,
`linux/sock_diag.h` and `linux/inet_diag.h`.
"""

import socket
import struct
from collections.abc import Iterator

from streamer.net.linux import IS_LINUX

NETLINK_SOCK_DIAG = 4
SOCK_DIAG_BY_FAMILY = 20
NLMSG_ERROR, NLMSG_DONE = 2, 3
REQUEST_DUMP = 0x1 | 0x300
"""NLM_F_REQUEST, NLM_F_DUMP."""
ALL_STATES = 0xFFFF_FFFF
HEADER = struct.Struct("=IHHII")
"""struct nlmsghdr: length with this, type, flags, sequence, port."""
REQUEST = struct.Struct("=BBBxI48x")
"""struct inet_diag_req_v2: family, protocol, extensions, states; the rest asks for all sockets."""
SOURCE_PORT_OCTETS = slice(4, 6)
ATTRIBUTES_OCTET = 72
"""Of struct inet_diag_msg: its local port, high octet first, and where it ends."""
ATTRIBUTE = struct.Struct("=HH")
"""struct nlattr: length with this, type."""
INET_DIAG_SKV6ONLY = 11
ALIGNED_TO = 4
READ_OCTETS = 65_536
LIMIT_S = 1.0


def hear_both_versions(port: int) -> bool:
    """Say whether all sockets of IPv6 on a UDP port hear IPv4 too; False where the system does not tell."""
    try:
        found = list(_ipv6_only(port))
    except OSError:
        return False
    return bool(found) and not any(found)


def _ipv6_only(port: int) -> Iterator[bool]:
    """Yield of each socket of IPv6 on a port whether it hears IPv6 alone; OSError where that is not told."""
    if not IS_LINUX:
        return
    with socket.socket(socket.AF_NETLINK, socket.SOCK_RAW, NETLINK_SOCK_DIAG) as asking:
        asking.settimeout(LIMIT_S)
        request = REQUEST.pack(socket.AF_INET6, socket.IPPROTO_UDP, 0, ALL_STATES)
        asking.sendto(
            HEADER.pack(HEADER.size + REQUEST.size, SOCK_DIAG_BY_FAMILY, REQUEST_DUMP, 1, 0) + request, (0, 0)
        )
        for kind, told in _messages(asking):
            if kind == NLMSG_ERROR:
                raise OSError
            if told[SOURCE_PORT_OCTETS] == port.to_bytes(2, "big"):
                yield _is_ipv6_only(told)


def _messages(asking: socket.socket) -> Iterator[tuple[int, bytes]]:
    while True:
        octets = asking.recv(READ_OCTETS)
        while octets:
            length, kind, *_ = HEADER.unpack_from(octets)
            if kind == NLMSG_DONE:
                return
            yield kind, octets[HEADER.size : length]
            octets = octets[_aligned(length) :]


def _is_ipv6_only(told: bytes) -> bool:
    attributes = told[ATTRIBUTES_OCTET:]
    while len(attributes) > ATTRIBUTE.size:
        length, kind = ATTRIBUTE.unpack_from(attributes)
        if kind == INET_DIAG_SKV6ONLY:
            return bool(attributes[ATTRIBUTE.size])
        attributes = attributes[max(ATTRIBUTE.size, _aligned(length)) :]
    # It is not told: better taken for one that wants its port for itself.
    return True


def _aligned(length: int) -> int:
    return -(-length // ALIGNED_TO) * ALIGNED_TO
