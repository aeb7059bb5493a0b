"""Whether a stream of one run and a stream of another come to the same receiver.

A receiver takes what is sent to its own address, and what is sent to a universe's group or broadcast where it
hangs (ANSI E1.31-2018 clause 9; Art-Net 4, ArtDmx). What goes to one address therefore meets what goes to
all, if both leave by the same interface: there nobody can tell from here who listens to both.
"""

from collections.abc import Callable, Iterable, Iterator
from functools import cache
from typing import NamedTuple

from streamer.display.model import GROUPS
from streamer.display.patch import StreamKey
from streamer.engine.outlet import ANY_GROUP
from streamer.errors import NetworkError
from streamer.net.destinations import LOOPBACK_BROADCAST, is_loopback
from streamer.net.interfaces import broadcast_addresses, find_interface, interface_towards
from streamer.net.zones import zone_of

LeavesBy = Callable[[str, str], str]
"""The interface that leads to an address (or "multicast"), one being chosen or ""; "" where none is known."""


class Place(NamedTuple):
    """A stream, the interface that was chosen for it ("": the system's choice), and whom it is for."""

    key: StreamKey
    chosen: str = ""
    controller: str = ""


class Network(NamedTuple):
    """What has to be known of this machine's network."""

    leaves_by: LeavesBy
    to_all: frozenset[str]
    """Addresses that everybody on a network hears."""


def this_network() -> Network:
    """Return what is so now; each way is looked up once, when it is first asked for."""
    return Network(cache(_leaves_by), GROUPS | broadcast_addresses() | {LOOPBACK_BROADCAST})


def crossings(
    ours: Iterable[Place], theirs: Iterable[Place], network: Network
) -> Iterator[tuple[Place, Place]]:
    """Yield each of ours with each of theirs that comes to the same receiver."""
    sent: dict[tuple[str, int], list[Place]] = {}
    for each in theirs:
        sent.setdefault((each.key.protocol, each.key.universe), []).append(each)
    for our in ours:
        for their in sent.get((our.key.protocol, our.key.universe), ()):
            if _meet(our, their, network):
                yield our, their


def _meet(one: Place, other: Place, network: Network) -> bool:
    """Say whether two streams of one universe come to the same receiver."""
    addresses = {one.key.address, other.key.address}
    if not addresses & network.to_all:
        return len(addresses) == 1
    ways = {network.leaves_by(each.key.address, each.chosen) for each in (one, other)}
    return len(ways) == 1 or "" in ways


def _leaves_by(address: str, chosen: str) -> str:
    if is_loopback(address) or not chosen or zone_of(address):
        # No choice holds for these: see net/outgoing.py.
        towards = interface_towards(ANY_GROUP.get(address, address))
        return towards.name if towards else ""
    try:
        return find_interface(chosen).name
    except NetworkError:
        return ""
