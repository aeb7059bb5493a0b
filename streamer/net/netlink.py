"""Asking Linux itself what it knows: whole tables over a socket of netlink(7), without any right.

Numbers are those of `linux/netlink.h`.
"""

import socket
import struct
from collections.abc import Iterator

from streamer.net.linux import IS_LINUX

HEADER = struct.Struct("=IHHII")
"""struct nlmsghdr: length with this, type, flags, sequence, port."""
ATTRIBUTE = struct.Struct("=HH")
"""struct nlattr: length with this, type."""
ERROR, DONE = 2, 3
"""NLMSG_ERROR, NLMSG_DONE."""
REQUEST_DUMP = 0x1 | 0x300
"""NLM_F_REQUEST, NLM_F_DUMP."""
ALIGNED_TO = 4
READ_OCTETS = 65_536
LIMIT_S = 1.0


def dump(protocol: int, kind: int, request: bytes) -> Iterator[bytes]:
    """Yield what each message of the answer carries; nothing elsewhere, OSError where Linux does not tell."""
    if not IS_LINUX:
        return
    with socket.socket(socket.AF_NETLINK, socket.SOCK_RAW, protocol) as asking:
        asking.settimeout(LIMIT_S)
        header = HEADER.pack(HEADER.size + len(request), kind, REQUEST_DUMP, 1, 0)
        asking.sendto(header + request, (0, 0))
        while True:
            for told, body in _parts(asking.recv(READ_OCTETS), HEADER):
                if told == DONE:
                    return
                if told == ERROR:
                    raise OSError
                yield body


def attributes(octets: bytes) -> dict[int, bytes]:
    """Return the attributes that follow a message's own fields, by their types."""
    return dict(_parts(octets, ATTRIBUTE))


def _parts(octets: bytes, head: struct.Struct) -> Iterator[tuple[int, bytes]]:
    while len(octets) >= head.size:
        length, kind, *_ = head.unpack_from(octets)
        yield kind, octets[head.size : length]
        octets = octets[max(head.size, -(-length // ALIGNED_TO) * ALIGNED_TO) :]
