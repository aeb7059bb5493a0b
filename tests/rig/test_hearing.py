"""Listening over a cable between two hosts: groups, one host alone, everybody."""

import select
import socket
import time

import pytest

from streamer.net.arrivals import address_text, destination_text
from streamer.net.interfaces import find_interface
from streamer.net.listener import Listener, Moment
from tests.rig.cable import Cable

pytestmark = pytest.mark.rig

PORT = 5568
GROUPS = [f"239.255.63.{number}" for number in range(1, 46)]
DEADLINE_S = 5.0


GROUPS_IPV6 = [f"ff18::8300:{number:x}" for number in range(1, 46)]


def heard(listener: Listener, count: int) -> list[tuple[str, str]]:
    """Wait for so many datagrams, and return who sent each, and where to."""
    found: list[tuple[str, str]] = []
    while len(found) < count:
        assert select.select([listener], [], [], DEADLINE_S)[0], f"only {len(found)} of {count} arrived"
        arrivals = listener.read(Moment(time.monotonic(), time.time_ns()))
        found += [
            (address_text(name), destination_text(to))
            for name, to in zip(arrivals.names, arrivals.destinations, strict=True)
        ]
    return found


def test_groups_one_host_and_everybody_are_heard_once_each_with_their_addresses(cable: Cable):
    """45 groups, this host's own address, the network's broadcast address and 255.255.255.255."""
    near, far = cable.near, cable.far
    with far.inside(), Listener(PORT, find_interface(far.interface)) as listener:
        listener.join(GROUPS)
        to = [*GROUPS, far.address, "10.61.0.255", "255.255.255.255"]
        with near.inside(), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, 1)
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_BINDTODEVICE, near.interface.encode())
            sock.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton(near.address))
            for address in to:
                sock.sendto(b"node 37", (address, PORT))
        assert sorted(heard(listener, len(to))) == sorted((near.address, address) for address in to)
        assert listener.dropped == 0
        assert listener.strays == 0


@pytest.mark.parametrize("by_many", [True, False])
def test_groups_of_both_ip_versions_are_heard_once_each(cable: Cable, by_many: bool):  # noqa: FBT001  a parameter
    """RFC 3493 clause 5.2; ANSI E1.31-2018 Tables 9-11 and 9-12 for the groups. One socket hears both."""
    near, far = cable.near, cable.far
    for host, address in ((near, "fd61::1/64"), (far, "fd61::2/64")):
        host.ip("address", "add", address, "dev", host.interface, "nodad")
    with far.inside(), Listener(PORT, find_interface(far.interface), by_many=by_many) as listener:
        listener.join([*GROUPS, *GROUPS_IPV6])
        with (
            near.inside(),
            socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as ipv4,
            socket.socket(socket.AF_INET6, socket.SOCK_DGRAM) as ipv6,
        ):
            ipv4.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton(near.address))
            ipv6.bind(("fd61::1", 0))
            ipv6.setsockopt(
                socket.IPPROTO_IPV6, socket.IPV6_MULTICAST_IF, socket.if_nametoindex(near.interface)
            )
            for address in GROUPS:
                ipv4.sendto(b"node 37", (address, PORT))
            for address in (*GROUPS_IPV6, "fd61::2"):
                ipv6.sendto(b"node 37", (address, PORT))
        wanted = [(near.address, each) for each in GROUPS]
        wanted += [("fd61::1", each) for each in (*GROUPS_IPV6, "fd61::2")]
        assert sorted(heard(listener, len(wanted))) == sorted(wanted)
        assert (listener.dropped, listener.strays) == (0, 0)
