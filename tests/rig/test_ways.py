"""Every way of sending, over a cable between two hosts: the same datagrams, and none lost by a cold start."""

import json
import select
import socket
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field

import numpy as np
import pytest

from streamer.net.batched import BatchedSender
from streamer.net.interfaces import find_interface
from streamer.net.receiver import Datagram, UdpReceiver
from streamer.net.sender import UdpSender
from streamer.net.ways import Way
from tests.rig.cable import Cable

pytestmark = pytest.mark.rig

PORT = 5568
GROUPS = tuple(f"239.255.61.{number}" for number in range(1, 101))
GROUP_IPV6 = "ff18::8300:1"
DEADLINE_S = 5.0
ORDINARY_BUFFER_OCTETS = 212_992
"""net.core.wmem_max as Linux has it; socket(7): what is set is doubled."""
WAYS = [None, *Way]
Warm = Callable[[UdpSender, UdpReceiver], None]
Destinations = Sequence[tuple[str, int]]


def matrix(count: int, length: int = 638) -> np.ndarray:
    """Return packets that are all different, the same at every call."""
    return np.random.default_rng(count * length).integers(0, 256, (count, length), dtype=np.uint8)


@dataclass
class Lawn:
    """A sender on the near host under a clock of our own, and receivers on the far one."""

    cable: Cable
    stack: ExitStack
    now_s: float = 0.0
    senders: list[UdpSender] = field(default_factory=list)

    def sender(self, only: Way | None = None) -> UdpSender:
        """Open a sender, pinned to the cable."""
        near = self.cable.near
        with near.inside():
            interface = find_interface(near.interface)
            if only is Way.SENDTO:
                sender = UdpSender(interface)
            else:
                sender = BatchedSender(interface, only=only, clock=lambda: self.now_s)
        self.stack.callback(sender.close)
        return sender

    def receiver(self, groups: tuple[str, ...] = ()) -> UdpReceiver:
        """Open a receiver."""
        far = self.cable.far
        with far.inside():
            return self.stack.enter_context(UdpReceiver(PORT, "", groups, find_interface(far.interface)))

    def send(
        self, sender: UdpSender, packets: np.ndarray, rows: np.ndarray, destinations: Destinations
    ) -> None:
        """Send a frame; the next one is a while later."""
        with self.cable.near.inside():
            sender.send(packets, rows, destinations)
        self.now_s += 0.025

    def packets_on_the_cable(self) -> int:
        """Return how many the near interface has sent."""
        near = self.cable.near
        told = json.loads(near.ip("-json", "-statistics", "link", "show", near.interface))
        return int(told[0]["stats64"]["tx"]["packets"])


def heard(receiver: UdpReceiver, count: int) -> list[Datagram]:
    """Wait for so many datagrams, and return all that arrived."""
    datagrams: list[Datagram] = []
    while len(datagrams) < count:
        assert select.select([receiver], [], [], DEADLINE_S)[0], f"only {len(datagrams)} of {count} arrived"
        datagrams += receiver.receive(limit=2000)
    return datagrams


@pytest.fixture(name="lawn")
def _lawn(cable: Cable) -> Iterator[Lawn]:
    with ExitStack() as stack:
        yield Lawn(cable, stack)


@pytest.fixture(name="warm")
def _warm(lawn: Lawn) -> Warm:
    def warm(sender: UdpSender, receiver: UdpReceiver) -> None:
        lawn.send(sender, matrix(1, 8), np.arange(1), ((lawn.cable.far.address, PORT),))
        heard(receiver, 1)

    return warm


@pytest.mark.parametrize("only", WAYS)
@pytest.mark.parametrize("is_cut_here", [False, True])
def test_every_way_puts_the_same_datagrams_on_the_cable(
    lawn: Lawn,
    warm: Warm,
    only: Way | None,
    is_cut_here: bool,  # noqa: FBT001  a parameter
):
    """Lengths of E1.31 and ArtDmx and an odd one; all rows and some, each in order.

    Long datagrams are cut at the receiving end, as if by a network card, or by the sending kernel for an
    interface that cannot: ip-link(8), gso_max_segs. The interface's own count of packets tells which.
    """
    near, counts = lawn.cable.near, (1, 2, 64, 65, 129, 1000)
    if is_cut_here:
        near.ip("link", "set", near.interface, "gso_max_segs", "1")
    sender, receiver = lawn.sender(only), lawn.receiver()
    warm(sender, receiver)
    before = lawn.packets_on_the_cable()
    for packets in (matrix(count, length) for length in (638, 530, 127) for count in counts):
        destinations = ((lawn.cable.far.address, PORT),) * len(packets)
        for rows in (np.arange(len(packets)), np.arange(0, len(packets), 3)):
            lawn.send(sender, packets, rows, destinations)
            wanted = [packets[row].tobytes() for row in rows]
            assert [each.payload for each in heard(receiver, len(rows))] == wanted
    assert not sender.counters.errors
    is_one_by_one = lawn.packets_on_the_cable() - before >= sender.counters.packets - 1
    assert is_one_by_one == (is_cut_here or only in {Way.SENDMMSG, Way.SENDTO})


@pytest.mark.parametrize("only", WAYS)
def test_every_group_gets_its_own_packet(lawn: Lawn, only: Way | None):
    """As E1.31 multicast has it: a group for each universe."""
    sender, receiver, packets = lawn.sender(only), lawn.receiver(GROUPS), matrix(100)
    lawn.send(sender, packets, np.arange(100), tuple((group, PORT) for group in GROUPS))
    got = {each.destination: each.payload for each in heard(receiver, 100)}
    assert got == {group: packets[row].tobytes() for row, group in enumerate(GROUPS)}


@pytest.mark.parametrize("only", WAYS)
def test_ipv6_hosts_and_groups_are_sent_to_by_the_chosen_interface(lawn: Lawn, only: Way | None):
    """ff18::/16 as E1.31 over IPv6 has it, and a link-local address without its zone: hops 1, RFC 4291."""
    near, far = lawn.cable.near, lawn.cable.far
    for host, address in ((near, "fd61::1/64"), (far, "fd61::2/64")):
        host.ip("address", "add", address, "dev", host.interface, "nodad")
    with far.inside(), socket.socket(socket.AF_INET6, socket.SOCK_DGRAM) as receiver:
        interface = find_interface(far.interface)
        receiver.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4 << 20)
        receiver.bind(("::", PORT))
        receiver.settimeout(DEADLINE_S)
        request = socket.inet_pton(socket.AF_INET6, GROUP_IPV6) + interface.index.to_bytes(4, "little")
        receiver.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_JOIN_GROUP, request)
        assert "fd61::2" in interface.ipv6_addresses
        sender, packets = lawn.sender(only), matrix(100)
        for address in ("fd61::2", GROUP_IPV6):
            destinations = ((address, PORT),) * 100
            lawn.send(sender, packets, np.arange(1), destinations)
            assert receiver.recv(2048) == packets[0].tobytes()
            lawn.send(sender, packets, np.arange(100), destinations)
            assert [receiver.recv(2048) for _ in range(100)] == [packet.tobytes() for packet in packets]
    assert not sender.counters.errors


def test_a_cable_too_small_for_the_packets_takes_them_in_pieces_one_by_one(lawn: Lawn, warm: Warm):
    """A real EMSGSIZE: with an MTU of 600 octets the kernel does not cut; IP fragments each packet."""
    near = lawn.cable.near
    near.ip("link", "set", near.interface, "mtu", "600")
    sender, receiver = lawn.sender(), lawn.receiver()
    warm(sender, receiver)
    packets, address = matrix(100), lawn.cable.far.address
    for _ in range(2):
        lawn.send(sender, packets, np.arange(100), ((address, PORT),) * 100)
    assert [each.payload for each in heard(receiver, 200)] == [packet.tobytes() for packet in packets] * 2
    assert sender.ways == {address: "sendmmsg: offload refused (EMSGSIZE)"}
    assert not sender.counters.errors


def test_a_cold_host_loses_nothing_of_what_was_sent(lawn: Lawn):
    """All that was counted as sent arrives, although nobody knew the host's hardware address: RFC 826."""
    sender, receiver, packets = lawn.sender(), lawn.receiver(), matrix(1000)
    destinations = ((lawn.cable.far.address, PORT),) * 1000
    lawn.send(sender, packets, np.arange(1000), destinations)
    assert [each.payload for each in heard(receiver, 1)] == [packets[0].tobytes()]
    lawn.send(sender, packets, np.arange(1000), destinations)
    assert len(heard(receiver, 1000)) == 1000
    assert sender.counters.packets == 1001


@pytest.mark.parametrize("address", ["fd61::2", "fe80::61%shed0"])
def test_a_cold_host_of_ipv6_loses_nothing_either(lawn: Lawn, address: str):
    """RFC 4861 clause 7.2.2: few packets are kept for a host while it is asked for its hardware address."""
    near, far = lawn.cable.near, lawn.cable.far
    for host, own in ((near, "fd61::1/64"), (far, "fd61::2/64"), (near, "fe80::60/64"), (far, "fe80::61/64")):
        host.ip("address", "add", own, "dev", host.interface, "nodad")
    sender, packets, destinations = lawn.sender(), matrix(1000), ((address, PORT),) * 1000
    with far.inside():
        receiver = lawn.stack.enter_context(UdpReceiver(PORT, "::"))
    for expected in (1, 1000):
        lawn.send(sender, packets, np.arange(1000), destinations)
        assert [each.payload for each in heard(receiver, expected)] == [
            packet.tobytes() for packet in packets[:expected]
        ]
    assert (sender.counters.packets, dict(sender.counters.errors)) == (1001, {})


@pytest.mark.parametrize("only", WAYS)
def test_a_stream_outlives_an_interface_that_goes_down(lawn: Lawn, warm: Warm, only: Way | None):
    """ENETUNREACH, counted by the packet; back when the interface is, one packet first for a cold host."""
    near, destinations = lawn.cable.near, ((lawn.cable.far.address, PORT),) * 100
    sender, receiver = lawn.sender(only), lawn.receiver()
    warm(sender, receiver)
    near.ip("link", "set", near.interface, "down")
    lawn.send(sender, matrix(100), np.arange(100), destinations)
    assert sender.counters.errors == {"ENETUNREACH": 100}
    near.ip("link", "set", near.interface, "up")
    lawn.send(sender, matrix(100), np.arange(1), destinations)
    heard(receiver, 1)
    lawn.send(sender, matrix(100), np.arange(100), destinations)
    assert len(heard(receiver, 100)) == 100


@pytest.mark.parametrize("only", WAYS)
def test_a_stream_outlives_its_interface(lawn: Lawn, warm: Warm, only: Way | None):
    """Deleted and made again, as a USB adapter pulled and put back: found again by its name."""
    destinations = ((lawn.cable.far.address, PORT),) * 100
    sender, receiver = lawn.sender(only), lawn.receiver()
    warm(sender, receiver)
    lawn.cable.unplug()
    lawn.send(sender, matrix(100), np.arange(100), destinations)
    assert sender.counters.errors == {"ENODEV": 100}
    receiver.close()
    lawn.cable.plug()
    receiver = lawn.receiver()
    warm(sender, receiver)
    lawn.send(sender, matrix(100), np.arange(100), destinations)
    assert len(heard(receiver, 100)) == 100


@pytest.mark.parametrize("only", [None, Way.SENDMMSG])
def test_a_frame_that_comes_faster_than_the_cable_takes_it_is_waited_for(
    lawn: Lawn, warm: Warm, only: Way | None
):
    """400 packets at once, a gigabit cable, and the send buffer that Linux allows an ordinary user."""
    near, destinations = lawn.cable.near, ((lawn.cable.far.address, PORT),) * 400
    near.run(*f"tc qdisc add dev {near.interface} root tbf rate 1gbit burst 64kb limit 20mb".split())
    sender, receiver = lawn.sender(only), lawn.receiver()
    warm(sender, receiver)
    sock = sender._outgoing.to(lawn.cable.far.address)
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, ORDINARY_BUFFER_OCTETS // 2)
    assert sock.getsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF) == ORDINARY_BUFFER_OCTETS
    lawn.send(sender, matrix(400), np.arange(400), destinations)
    assert not sender.counters.errors
    assert len(heard(receiver, 400)) == 400


@pytest.mark.parametrize("only", WAYS)
def test_a_full_local_queue_is_counted_by_the_packet(lawn: Lawn, only: Way | None):
    """udp(7): with IP_RECVERR Linux says ENOBUFS for packets that its own queue throws away."""
    near = lawn.cable.near
    near.run(*f"tc qdisc add dev {near.interface} root tbf rate 1mbit burst 2kb limit 4kb".split())
    sender = lawn.sender(only)
    lawn.send(sender, matrix(200), np.arange(200), tuple((GROUPS[row % 100], PORT) for row in range(200)))
    assert sender.counters.errors["ENOBUFS"] > 100
    assert sender.counters.packets + sender.counters.errors["ENOBUFS"] == 200
