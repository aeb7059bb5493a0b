"""The wire itself: tshark sees the same packets whichever way they were handed to the kernel."""

from collections.abc import Iterator
from contextlib import ExitStack

import numpy as np
import pytest

from streamer.net.batched import BatchedSender
from streamer.net.interfaces import find_interface
from streamer.net.receiver import UdpReceiver
from streamer.net.sender import UdpSender
from streamer.net.ways import Way
from tests.rig.cable import Cable
from tests.rig.capture import Captured, capture, mark

pytestmark = pytest.mark.rig

PORT = 5568
PACKETS, EVERY_ROW = 150, np.arange(150)
FEW_ROWS = np.flatnonzero(EVERY_ROW % 3)
HOPS = 5
GROUPS = tuple(f"239.255.61.{number}" for number in range(PACKETS))
GROUPS_IPV6 = tuple(f"ff18::8300:{number:x}" for number in range(1, PACKETS + 1))
"""ANSI E1.31-2018 Tables 9-10 to 9-12."""
DESTINATIONS = {
    "IPv4 host": ("10.61.0.2",) * PACKETS,
    "IPv6 host": ("fd61::2",) * PACKETS,
    "link-local host": ("fe80::61%shed0",) * PACKETS,
    "IPv4 groups": GROUPS,
    "IPv6 groups": GROUPS_IPV6,
    "all of them by turns": ("10.61.0.2", "ff18::8300:1", "fd61::2", "239.255.61.1", "fe80::61%shed0") * 30,
}
WAYS: tuple[Way | None, ...] = (None, *Way)


@pytest.fixture(name="wire")
def _wire(cable: Cable) -> Iterator[Cable]:
    """Two hosts with addresses of both kinds, on a cable for which the sending kernel cuts."""
    for host in (cable.near, cable.far):
        # Addresses may be used at once.
        host.run("sysctl", "-qw", "net.ipv6.conf.default.accept_dad=0")
    cable.unplug()
    cable.plug()
    for host, addresses in (
        (cable.near, ["fd61::1/64"]),
        (cable.far, ["fd61::2/64", "fe80::61/64"]),
    ):
        host.ip("link", "set", host.interface, "gso_max_segs", "1")
        for address in addresses:
            host.ip("address", "add", address, "dev", host.interface, "nodad")
    with ExitStack() as stack, cable.far.inside():
        for every in ("", "::"):
            stack.enter_context(UdpReceiver(PORT, every))
        yield cable


def sent_by(cable: Cable, only: Way | None, destinations: tuple[str, ...], packets: np.ndarray) -> UdpSender:
    """Send one row to each host, then all and some, and return the sender, closed."""
    now_s = 0.0
    to = tuple((address, PORT) for address in destinations)
    hosts = np.unique(destinations, return_index=True)[1]
    with cable.near.inside():
        interface = find_interface(cable.near.interface)
        if only is Way.SENDTO:
            sender = UdpSender(interface, HOPS)
        else:
            sender = BatchedSender(interface, HOPS, only=only, clock=lambda: now_s)
        for rows in (hosts, EVERY_ROW, FEW_ROWS):
            sender.send(packets, rows, to)
            now_s += 0.025
        sender.close()
        mark(cable.near.interface)
    assert not sender.counters.errors
    return sender


def by_destination(captured: list[Captured]) -> dict[tuple[str, int, int], list[bytes]]:
    """Return the payloads to each address and port, with so many hops, in their order."""
    found: dict[tuple[str, int, int], list[bytes]] = {}
    for each in captured:
        found.setdefault((each.destination, each.port, each.hops), []).append(each.payload)
    return found


@pytest.mark.parametrize("kind", DESTINATIONS)
def test_the_bytes_are_the_same_in_every_way(wire: Cable, kind: str):
    """Each destination gets the rows that are its own, in order and whole, and groups the hops asked for."""
    destinations = DESTINATIONS[kind]
    packets = np.random.default_rng(61).integers(0, 256, (PACKETS, 638), dtype=np.uint8)
    rows = [*np.unique(destinations, return_index=True)[1].tolist(), *EVERY_ROW.tolist(), *FEW_ROWS.tolist()]
    wanted: dict[str, list[bytes]] = {}
    for row in rows:
        wanted.setdefault(destinations[row].partition("%")[0], []).append(packets[row].tobytes())
    with capture(wire.far.namespace, wire.far.interface) as captured:
        for only in WAYS:
            sender = sent_by(wire, only, destinations, packets)
            on_the_wire = by_destination(captured.until_marked())
            assert {address: payloads for (address, _, _), payloads in on_the_wire.items()} == wanted, only
            assert {port for _, port, _ in on_the_wire} == {PORT}
            assert {hops for address, _, hops in on_the_wire if address.startswith(("239.", "ff"))} <= {HOPS}
            assert sender.counters.packets == len(rows)
            if "host" in kind and only in {None, Way.OFFLOAD}:
                assert set(sender.ways.values()) == {"offload"}
