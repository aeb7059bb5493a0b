"""Which hosts of this network have told their hardware address lately, by the kernel's own table.

A host must answer that question (RFC 826 ARP, RFC 4861 neighbour discovery) to be sent anything at all, even
one that answers nothing else. Linux only; it needs no right, and sends nothing.
"""

import socket
import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import IntFlag

from streamer.net.linux import IS_LINUX

_HEADER = struct.Struct("=IHHII")
"""struct nlmsghdr: length, type, flags, sequence, port: netlink(7)."""
_NEIGHBOUR = struct.Struct("=BxxxiHBB")
"""struct ndmsg: family, interface index, state, flags, type: rtnetlink(7)."""
_ATTRIBUTE = struct.Struct("=HH")
"""struct rtattr: length, type."""
_CACHE_INFO = struct.Struct("=4I")
"""struct nda_cacheinfo: how long ago it was confirmed, used and updated, in ticks; references."""
_GET_NEIGHBOURS, _NEIGHBOUR_TOLD, _DONE, _ERROR = 30, 28, 3, 2
_REQUEST_ALL = 0x301
_ADDRESS, _CACHE = 1, 3
_TICKS_PER_S = 100
"""USER_HZ, the same on every machine: time(7)."""
_READ_OCTETS = 65_536
_READS_MAX = 256
_ALIGNED = 4


class State(IntFlag):
    """NUD_ of linux/neighbour.h."""

    INCOMPLETE = 0x01
    REACHABLE = 0x02
    STALE = 0x04
    DELAY = 0x08
    PROBE = 0x10
    FAILED = 0x20


UNSETTLED = State.INCOMPLETE | State.STALE | State.DELAY | State.PROBE
"""Of one that has just been sent to: the kernel is about to ask, or is asking."""


@dataclass(frozen=True, slots=True)
class Neighbour:
    """What the kernel knows of one address."""

    state: State
    confirmed_s_ago: float
    """When it was last known to be there."""

    @property
    def is_there(self) -> bool:
        """Whether the kernel takes it for reachable: it has answered lately (RFC 4861 clause 7.3.2)."""
        return State.REACHABLE in self.state


def neighbours() -> Mapping[str, Neighbour]:
    """Return what is known of each address, without zones; nothing where the system does not tell."""
    if not IS_LINUX:
        return {}
    try:
        return dict(_told())
    except (OSError, struct.error):
        return {}


def _told() -> Iterator[tuple[str, Neighbour]]:
    request = _NEIGHBOUR.pack(socket.AF_UNSPEC, 0, 0, 0, 0)
    with socket.socket(socket.AF_NETLINK, socket.SOCK_RAW, socket.NETLINK_ROUTE) as sock:
        sock.settimeout(1.0)
        length = _HEADER.size + len(request)
        sock.sendto(_HEADER.pack(length, _GET_NEIGHBOURS, _REQUEST_ALL, 1, 0) + request, (0, 0))
        for _ in range(_READS_MAX):
            for kind, body in _parts(sock.recv(_READ_OCTETS), _HEADER):
                if kind in {_DONE, _ERROR}:
                    return
                if kind == _NEIGHBOUR_TOLD:
                    yield from _neighbour(body)


def _parts(octets: bytes, head: struct.Struct) -> Iterator[tuple[int, bytes]]:
    """Yield the type and body of each message, or of each attribute of one."""
    at = 0
    while at + head.size <= len(octets):
        length, kind = head.unpack_from(octets, at)[:2]
        if length < head.size:
            return
        yield kind, octets[at + head.size : at + length]
        at += -(-length // _ALIGNED) * _ALIGNED


def _neighbour(body: bytes) -> Iterator[tuple[str, Neighbour]]:
    family, _, state, _, _ = _NEIGHBOUR.unpack_from(body)
    facts = dict(_parts(body[_NEIGHBOUR.size :], _ATTRIBUTE))
    if family in {socket.AF_INET, socket.AF_INET6} and facts.keys() >= {_ADDRESS, _CACHE}:
        confirmed, *_ = _CACHE_INFO.unpack_from(facts[_CACHE])
        yield socket.inet_ntop(family, facts[_ADDRESS]), Neighbour(State(state), confirmed / _TICKS_PER_S)
