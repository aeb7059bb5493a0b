"""The yard on real sockets: unicast, several addresses, groups, a taken port, answers to ArtPoll."""

import os
import select
import socket
from collections.abc import Iterator
from contextlib import closing

import pytest

from streamer.display.model import Controller, Display, Protocol
from streamer.errors import NetworkError
from streamer.net.linux import IS_LINUX
from streamer.wire import artnet
from streamer.yard.faults import WrongUniverse
from streamer.yard.process import yard_command
from streamer.yard.sockets import YardSockets
from streamer.yard.yard import SYNC_ADDRESSES_LEARNT_MAX, Yard
from tests.of_kind import of_kind
from tests.yard.bench import ART_POLL, ART_SYNC, art_dmx, data_packet, jetty, port, sync_packet

Ports = dict[Protocol, int]
DEADLINE_S = 2.0
OWN = f"127.{83 + os.getpid() % 100}.{os.getpid() // 100 % 250}.7"
"""A loopback address that no other run of the tests uses."""


@pytest.fixture(name="ports")
def _ports() -> Ports:
    """Two UDP ports that were free a moment ago on every address."""
    sockets = [socket.socket(socket.AF_INET, socket.SOCK_DGRAM) for _ in Protocol]
    for each in sockets:
        each.bind(("", 0))
    ports = dict(zip(Protocol, [each.getsockname()[1] for each in sockets], strict=True))
    for each in sockets:
        each.close()
    return ports


@pytest.fixture(name="sender")
def _sender() -> Iterator[socket.socket]:
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as sender:
        sender.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton("127.0.0.1"))
        sender.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_TTL, 0)
        sender.settimeout(DEADLINE_S)
        yield sender


def hear(sockets: YardSockets, count: int = 1) -> None:
    """Wait until so many datagrams have reached the yard."""
    heard = 0
    while heard < count:
        assert select.select(sockets.filenos(), [], [], DEADLINE_S)[0], f"only {heard} of {count} arrived"
        heard += sockets.poll(0.0)


def reds(yard: Yard) -> list[int]:
    """Return the red of every node."""
    return [int(red) for red in yard.seen().nodes[:, 0]]


def test_each_address_of_the_display_is_heard_apart(ports: Ports, sender: socket.socket):
    """Two E1.31 controllers on two loopback addresses and an Art-Net one; each shows its own packet."""
    addresses = ["127.0.0.1", OWN, "10.99.99.99"]
    protocols = [Protocol.E131, Protocol.E131, Protocol.ARTNET]
    display = Display(
        name="boathouse",
        controllers=tuple(
            Controller(name=f"shed {n}", protocol=protocol, address=address, ports=(port(n, 1, 1),))
            for n, (protocol, address) in enumerate(zip(protocols, addresses, strict=True), start=1)
        ),
    )
    yard = Yard(display)
    with YardSockets(yard, ports) as sockets:
        sender.sendto(data_packet(1, b"\1"), ("127.0.0.1", ports[Protocol.E131]))
        sender.sendto(data_packet(1, b"\2"), (OWN, ports[Protocol.E131]))
        sender.sendto(art_dmx(1, b"\3\0"), ("127.0.0.1", ports[Protocol.ARTNET]))
        hear(sockets, 3)
    assert reds(yard) == [1, 2, 3]


def test_groups_are_heard_on_loopback_and_follow_a_wrong_universe(ports: Ports, sender: socket.socket):
    """ANSI E1.31-2018 table 9-10: 300 comes by 239.255.1.44, and 301 by 239.255.1.45 once it is wanted."""
    yard = Yard(jetty([port(1, 1, 300)], address="multicast"))
    with YardSockets(yard, ports) as sockets:
        sender.sendto(data_packet(300, b"\1"), ("239.255.1.44", ports[Protocol.E131]))
        hear(sockets)
        assert reds(yard) == [1]
        yard.set_faults("jetty/1", [WrongUniverse(by=1)])
        assert sockets.poll(0.0) == 0
        sender.sendto(data_packet(301, b"\2"), ("239.255.1.45", ports[Protocol.E131]))
        hear(sockets)
    assert reds(yard) == [2]


def test_synchronization_is_heard_by_its_group_though_levels_come_to_an_address(
    ports: Ports, sender: socket.socket
):
    """ANSI E1.31-2018 6.2.4 and 6.3.3.1: levels name the universe, and 7001 comes by 239.255.27.89."""
    yard = Yard(jetty([port(1, 1, 300)], address=OWN))
    group = ("239.255.27.89", ports[Protocol.E131])
    with YardSockets(yard, ports) as sockets:
        sender.sendto(data_packet(300, b"\1", sync_address=7001), (OWN, ports[Protocol.E131]))
        hear(sockets)
        assert sockets.poll(0.0) == 0
        for number, shown in enumerate(([1], [2]), start=1):
            sender.sendto(sync_packet(7001, number), group)
            hear(sockets)
            assert reds(yard) == shown
            levels = data_packet(300, b"\2", sequence=number, sync_address=7001)
            sender.sendto(levels, (OWN, ports[Protocol.E131]))
            hear(sockets)
            assert reds(yard) == shown, "levels wait"


def test_a_yard_whose_groups_cannot_be_joined_goes_on_and_says_so(ports: Ports, sender: socket.socket):
    """Another program holds the port at another address: what a packet names must not end the yard."""
    yard = Yard(jetty([port(1, 1, 300)], address=OWN))
    with (
        closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as other,
        YardSockets(yard, ports) as sockets,
    ):
        other.bind(("127.0.0.1", ports[Protocol.E131]))
        for number in range(40):
            # More synchronization addresses than are believed: the sockets are not opened anew for each.
            packet = data_packet(300, bytes([number]), sequence=number, sync_address=7001 + number)
            sender.sendto(packet, (OWN, ports[Protocol.E131]))
            hear(sockets)
        assert reds(yard) == [39]
        assert len(yard.groups()) == SYNC_ADDRESSES_LEARNT_MAX
        assert "Groups cannot be heard" in sockets.trouble


@pytest.mark.skipif(not IS_LINUX, reason="loopback has a broadcast address on Linux alone")
def test_artsync_and_artpoll_are_heard_by_broadcast(ports: Ports, sender: socket.socket):
    """Art-Net 4, ArtSync: directed broadcast only; the node then holds ArtDmx until the next."""
    yard = Yard(jetty([port(1, 1, 7)], protocol=Protocol.ARTNET, address=OWN))
    everybody = ("127.255.255.255", ports[Protocol.ARTNET])
    sender.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, 1)
    with YardSockets(yard, ports) as sockets:
        for number, shown in ((1, [1]), (2, [1])):
            sender.sendto(art_dmx(7, bytes([number, 0]), number), (OWN, ports[Protocol.ARTNET]))
            hear(sockets)
            assert reds(yard) == shown
            if number == 1:
                sender.sendto(ART_SYNC, everybody)
                hear(sockets)
        sender.sendto(ART_SYNC, everybody)
        hear(sockets)
        assert reds(yard) == [2]
        sender.sendto(ART_POLL, everybody)
        hear(sockets)
        assert of_kind(artnet.ArtPollReply, artnet.parse(sender.recv(1000))).output_port_addresses == (7,)


@pytest.mark.parametrize("address", ["::1", "fd00:7::20", "fe80::20%eth0", "multicast6"])
def test_controllers_of_ipv6_stand_at_its_loopback_address(ports: Ports, address: str):
    """RFC 4291 clause 2.5.3, beside one of IPv4 on the same port; ANSI E1.31-2018 clause 9 for groups."""
    here = jetty([port(1, 1, 300)], address="127.0.0.1").controllers[0]
    there = Controller(name="loft", protocol=Protocol.E131, address=address, ports=(port(2, 1, 300),))
    yard = Yard(Display(name="boathouse", controllers=(here, there)))
    with YardSockets(yard, ports) as sockets:
        for family, host, level in (
            (socket.AF_INET, "127.0.0.1", b"\1"),
            (socket.AF_INET6, "::1", b"\2"),
        ):
            with closing(socket.socket(family, socket.SOCK_DGRAM)) as sender:
                sender.sendto(data_packet(300, level), (host, ports[Protocol.E131]))
        hear(sockets, 2)
    assert reds(yard) == [1, 2]


def test_a_poll_is_answered_to_whoever_asked(ports: Ports, sender: socket.socket):
    """The reply comes back to the asker's own UDP port."""
    with YardSockets(Yard(jetty([port(1, 1, 7)], protocol=Protocol.ARTNET)), ports) as sockets:
        sender.sendto(ART_POLL, ("127.0.0.1", ports[Protocol.ARTNET]))
        hear(sockets)
        assert of_kind(artnet.ArtPollReply, artnet.parse(sender.recv(1000))).output_port_addresses == (7,)


def test_only_the_ports_that_the_display_needs_are_held(ports: Ports):
    """A display without Art-Net leaves its port to others."""
    with (
        YardSockets(Yard(jetty([port(1, 1, 1)])), ports) as sockets,
        closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as other,
    ):
        assert len(sockets.filenos()) == 1
        other.bind(("127.0.0.1", ports[Protocol.ARTNET]))


def test_a_taken_port_is_told_with_its_holder_and_the_other_port_is_freed(ports: Ports):
    """The error names the process; what had been opened before is closed again."""
    controllers = tuple(
        Controller(name=protocol, protocol=protocol, address="127.0.0.1", ports=(port(n, 1, 1),))
        for n, protocol in enumerate(Protocol, start=1)
    )
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as holder:
        holder.bind(("127.0.0.1", ports[Protocol.ARTNET]))
        with pytest.raises(NetworkError, match=f"process {os.getpid()}"):
            YardSockets(Yard(Display(name="boathouse", controllers=controllers)), ports)
        with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as other:
            other.bind(("127.0.0.1", ports[Protocol.E131]))


@pytest.mark.parametrize("json_lines", [False, True])
def test_the_command_says_who_holds_the_port_and_fails(*, json_lines: bool):
    """With the reason, before anything is written."""
    written: list[str] = []
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as holder:
        holder.bind((OWN, 5568))
        display = jetty([port(1, 1, 1)], address=OWN)
        with pytest.raises(NetworkError, match=f"^{OWN} port 5568: .* process {os.getpid()} "):
            yard_command(display, json_lines=json_lines, faults={}, seconds=1, write=written.append)
    assert written == []
