"""Which streams of two runs come to one receiver: where one goes to all, and one to a single address."""

import pytest

from streamer.display.model import GROUPS, MULTICAST, MULTICAST_IPV6, Protocol
from streamer.display.patch import StreamKey
from streamer.engine.crossing import Network, Place, crossings, this_network
from streamer.net.destinations import LOOPBACK

ONE, OTHER, ALL, FARTHER = "192.168.7.20", "192.168.7.21", "192.168.7.255", "10.0.0.20"
WAYS = {ONE: "eth0", OTHER: "eth0", ALL: "eth0", FARTHER: "eth1", MULTICAST: "eth0", MULTICAST_IPV6: "eth0"}
NETWORK = Network(lambda address, chosen: chosen or WAYS.get(address, ""), GROUPS | {ALL})


def meet(one: Place, other: Place) -> bool:
    """Say so, whichever of the two is ours."""
    met = [bool(list(crossings([ours], [theirs], NETWORK))) for ours, theirs in ((one, other), (other, one))]
    assert met[0] == met[1]
    return met[0]


def e131(address: str, universe: int = 1, chosen: str = "") -> Place:
    """Return a stream of E1.31."""
    return Place(StreamKey(Protocol.E131, address, universe), chosen)


def art_net(address: str, universe: int = 1) -> Place:
    """Return a stream of Art-Net."""
    return Place(StreamKey(Protocol.ARTNET, address, universe))


@pytest.mark.parametrize(
    ("one", "other", "why"),
    [
        (e131(ONE), e131(ONE), "the same address"),
        (e131(MULTICAST), e131(MULTICAST), "the same group"),
        (e131(MULTICAST), e131(ONE), "receivers take both: ANSI E1.31-2018 clause 9"),
        (
            e131(MULTICAST, chosen="eth0"),
            e131(ONE),
            "chosen, or by the system's choice: it is the same cable",
        ),
        (e131(MULTICAST), e131(MULTICAST, chosen="eth0"), "the same"),
        (e131(MULTICAST_IPV6), e131(MULTICAST), "a receiver may be a member of both: clause 9.3.2"),
        (e131(MULTICAST), e131("fe80::9"), "no way is known: it may be anywhere"),
        (art_net(ALL), art_net(ONE), "a broadcast is for every node: Art-Net 4"),
    ],
)
def test_what_one_receiver_may_hear_twice_meets(one: Place, other: Place, why: str):
    """Two sources of one priority: clause 6.2.3 leaves it to the receiver's maker what its lights then do."""
    assert meet(one, other), why


@pytest.mark.parametrize(
    ("one", "other", "why"),
    [
        (e131(ONE), e131(OTHER), "each has its own controller"),
        (e131(MULTICAST), e131(ONE, universe=2), "another universe"),
        (e131(ONE), art_net(ONE), "another protocol"),
        (e131(MULTICAST), e131(FARTHER), "another cable"),
        (e131(MULTICAST, chosen="lo"), e131(ONE), "it stays on this machine"),
        (e131(MULTICAST), e131(MULTICAST, chosen="eth1"), "another cable"),
        (art_net(ALL), art_net(FARTHER), "a broadcast stays in its network: RFC 919 clause 7"),
    ],
)
def test_what_no_receiver_hears_twice_does_not(one: Place, other: Place, why: str):
    """Nobody is warned of what cannot be."""
    assert not meet(one, other), why


def test_on_this_machine_the_ways_are_looked_up():
    """RFC 1122 clause 3.2.1.3: what goes to 127.0.0.0/8 leaves by loopback, whatever was chosen."""
    network = this_network()
    by_loopback = network.leaves_by("127.0.0.9", "")
    assert by_loopback == network.leaves_by(LOOPBACK, "no such interface")
    assert by_loopback == network.leaves_by(MULTICAST, by_loopback)
    assert network.leaves_by(MULTICAST, "no such interface") == ""
