"""Datagrams with the moment at which the kernel took them in: on a busy machine they are read much later."""

import socket
import struct
from collections.abc import Iterator
from typing import NamedTuple

SO_TIMESTAMPNS, TIMESPEC = 35, struct.Struct("@ll")
"""socket(7), asm-generic/socket.h: seconds and nanoseconds of the clock on the wall beside each datagram."""
DATAGRAM_OCTETS = 2_000
BUFFER_OCTETS = 2**20


class Stamped(NamedTuple):
    """One datagram."""

    unix_s: float
    """When it came."""
    octets: bytes
    source: tuple[str, int]


def stamping(address: str, port: int) -> socket.socket:
    """Return a socket that does not block, with room for what waits; OSError for a taken port."""
    sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    try:
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, BUFFER_OCTETS)
        sock.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMPNS, 1)
        sock.bind((address, port))
    except OSError:
        sock.close()
        raise
    sock.setblocking(False)
    return sock


def arrived(sock: socket.socket) -> Iterator[Stamped]:
    """Yield what waits."""
    while True:
        try:
            octets, beside, _, source = sock.recvmsg(DATAGRAM_OCTETS, socket.CMSG_SPACE(TIMESPEC.size))
        except BlockingIOError:
            return
        ((_, _, stamp),) = beside
        seconds, nanoseconds = TIMESPEC.unpack(stamp)
        yield Stamped(seconds + nanoseconds / 1e9, octets, source)
