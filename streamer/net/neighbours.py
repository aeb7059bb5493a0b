"""Which hosts of this network have told their hardware address lately, by the kernel's own table.

A host must answer that question (RFC 826 ARP, RFC 4861 neighbour discovery) to be sent anything at all, even
one that answers nothing else. By rtnetlink(7), which sends nothing; numbers from `linux/neighbour.h`.
"""

import socket
import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import IntFlag

from streamer.net.netlink import attributes, dump

NETLINK_ROUTE = 0
RTM_GETNEIGH = 30
NDMSG = struct.Struct("=BxxxiHBB")
"""struct ndmsg: family, interface index, state, flags, type."""
NDA_DST, NDA_CACHEINFO = 1, 3
CACHEINFO = struct.Struct("=4I")
"""struct nda_cacheinfo: how long ago it was confirmed, used and updated, in ticks; references."""
TICKS_PER_S = 100
"""USER_HZ, the same on every machine: time(7)."""


class State(IntFlag):
    """What the kernel makes of a neighbour: NUD_."""

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
    try:
        return dict(_told())
    except OSError:
        return {}


def _told() -> Iterator[tuple[str, Neighbour]]:
    for told in dump(NETLINK_ROUTE, RTM_GETNEIGH, NDMSG.pack(0, 0, 0, 0, 0)):
        family, _, state, _, _ = NDMSG.unpack_from(told)
        facts = attributes(told[NDMSG.size :])
        if family in {socket.AF_INET, socket.AF_INET6} and facts.keys() >= {NDA_DST, NDA_CACHEINFO}:
            confirmed, *_ = CACHEINFO.unpack_from(facts[NDA_CACHEINFO])
            yield socket.inet_ntop(family, facts[NDA_DST]), Neighbour(State(state), confirmed / TICKS_PER_S)
