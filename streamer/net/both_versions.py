"""Which sockets of a UDP port hear IPv4 and IPv6 at once, as a listener's does: asked of Linux itself.

No library that we keep tells it. By sock_diag(7); numbers from `linux/sock_diag.h` and `linux/inet_diag.h`.
"""

import socket
import struct
from collections.abc import Iterator

from streamer.net.netlink import attributes, dump

NETLINK_SOCK_DIAG = 4
SOCK_DIAG_BY_FAMILY = 20
ALL_STATES = 0xFFFF_FFFF
REQUEST = struct.Struct("=BBBxI48x")
"""struct inet_diag_req_v2: family, protocol, extensions, states; the rest asks for all sockets."""
SOURCE_PORT_OCTETS = slice(4, 6)
ATTRIBUTES_OCTET = 72
"""Of struct inet_diag_msg: its local port, high octet first, and where it ends."""
INET_DIAG_SKV6ONLY = 11


def hear_both_versions(port: int) -> bool:
    """Say whether all sockets of IPv6 on a UDP port hear IPv4 too; False where the system does not tell."""
    try:
        found = list(_ipv6_only(port))
    except OSError:
        return False
    return bool(found) and not any(found)


def _ipv6_only(port: int) -> Iterator[bool]:
    """Yield of each socket of IPv6 on a port whether it hears IPv6 alone; OSError where that is not told."""
    request = REQUEST.pack(socket.AF_INET6, socket.IPPROTO_UDP, 0, ALL_STATES)
    for told in dump(NETLINK_SOCK_DIAG, SOCK_DIAG_BY_FAMILY, request):
        if told[SOURCE_PORT_OCTETS] == port.to_bytes(2, "big"):
            # Where it is not told: better taken for one that wants its port for itself.
            is_ipv6_only = attributes(told[ATTRIBUTES_OCTET:]).get(INET_DIAG_SKV6ONLY, b"\1")
            yield any(is_ipv6_only)
