"""Linux's queue of errors that came back from the network for datagrams sent earlier.

ip(7), IP_RECVERR; ipv6(7), IPV6_RECVERR.

Without it a refusal for one destination is handed to the next send, which is to another, and blamed on that.
"""

import errno
import socket

from streamer.net.destinations import Destination
from streamer.net.linux import EXTENDED_ERR, IP_RECVERR, IPV6_RECVERR, IS_LINUX, SO_EE_ORIGIN_LOCAL
from streamer.net.zones import destination_of

MOST_AT_ONCE = 1000
"""Bounds one reading; the socket's receive buffer bounds the queue to a few hundred."""
ANCILLARY_OCTETS = 512
OPTIONS = ((socket.IPPROTO_IP, IP_RECVERR), (socket.IPPROTO_IPV6, IPV6_RECVERR))


def ask_for_late_errors(sock: socket.socket) -> None:
    """Have the system keep them for this socket, and say ENOBUFS when its own queue is full: udp(7)."""
    if IS_LINUX:
        sock.setsockopt(*OPTIONS[sock.family == socket.AF_INET6], 1)


def late_errors(sock: socket.socket) -> list[tuple[str, Destination]]:
    """Empty the queue: the errno's name and the destination of each datagram that came to grief."""
    found: list[tuple[str, Destination]] = []
    if not IS_LINUX:
        return found
    for _ in range(MOST_AT_ONCE):
        try:
            _, ancillary, _, name = sock.recvmsg(0, ANCILLARY_OCTETS, socket.MSG_ERRQUEUE)
        except OSError:  # EAGAIN, the queue is empty; a closed socket has none
            break
        for level, kind, data in ancillary:
            if (level, kind) in OPTIONS:
                number, origin, *_ = EXTENDED_ERR.unpack_from(data)
                if origin != SO_EE_ORIGIN_LOCAL:
                    found.append((errno_name(number), destination_of(name)))
    return found


def errno_name(number: int | None) -> str:
    """Return the name of an errno, "ENETUNREACH"; the number in words where it has none."""
    return errno.errorcode.get(number or 0, f"error {number}")
