"""What becomes of a stream when cables, interfaces and addresses come and go, on real sockets."""

import json
import select
import socket
import struct
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack

import numpy as np
import pytest

from streamer.net.interfaces import find_interface, interface_towards
from streamer.net.receiver import Datagram, UdpReceiver
from streamer.net.sender import UdpSender
from tests.rig.cable import Cable

pytestmark = pytest.mark.rig

PORT = 5568
GROUP = "239.255.61.1"
DEADLINE_S = 5.0
TRIES = 500


class Rig:
    """Opens senders on the near host and receivers on the far one, and closes them."""

    def __init__(self, cable: Cable, stack: ExitStack) -> None:
        self.cable = cable
        self._stack = stack

    def sender(self, *, is_pinned: bool = True, ttl: int = 1, broadcast: bool = False) -> UdpSender:
        """Open a sender on the near host, on its end of the cable unless it is not pinned."""
        near = self.cable.near
        with near.inside():
            interface = find_interface(near.interface) if is_pinned else None
            sender = UdpSender(interface, ttl, broadcast=broadcast)
        self._stack.callback(sender.close)
        return sender

    def send(self, sender: UdpSender, payload: bytes, address: str) -> None:
        """Send one packet from the near host."""
        with self.cable.near.inside():
            sender.send_one(payload, (address, PORT))

    def receiver(self, groups: tuple[str, ...] = (GROUP,), address: str = "") -> UdpReceiver:
        """Open a receiver on the far host's end of the cable."""
        far = self.cable.far
        with far.inside():
            receiver = UdpReceiver(PORT, address, groups, find_interface(far.interface))
        return self._stack.enter_context(receiver)

    def heard(self, receiver: UdpReceiver) -> list[Datagram]:
        """Return what arrives first, within a few seconds."""
        assert select.select([receiver], [], [], DEADLINE_S)[0], "nothing arrived"
        return receiver.receive(limit=1000)

    def comes_back(self, sender: UdpSender, receiver: UdpReceiver, address: str) -> bool:
        """Whether a stream of small packets arrives, within a few seconds."""
        for _ in range(TRIES):
            self.send(sender, b"frame", address)
            if select.select([receiver], [], [], DEADLINE_S / TRIES)[0] and receiver.receive(limit=1000):
                return True
        return False


@pytest.fixture(name="rig")
def _rig(cable: Cable) -> Iterator[Rig]:
    with ExitStack() as stack:
        yield Rig(cable, stack)


@pytest.mark.parametrize("is_pinned", [True, False])
def test_a_stream_outlives_an_interface_that_goes_down(rig: Rig, is_pinned: bool):  # noqa: FBT001  a parameter
    """Linux says ENETUNREACH; it is counted for each packet, told once, and over when the interface is up."""
    near, far = rig.cable.near, rig.cable.far
    sender, receiver = rig.sender(is_pinned=is_pinned), rig.receiver()
    assert rig.comes_back(sender, receiver, far.address)
    near.ip("link", "set", near.interface, "down")
    for _ in range(3):
        rig.send(sender, b"lost", far.address)
    assert sender.counters.errors == {"ENETUNREACH": 3}
    assert len(sender.complaints) == 1
    near.ip("link", "set", near.interface, "up")
    assert rig.comes_back(sender, receiver, far.address)


def test_a_stream_outlives_its_interface(rig: Rig):
    """Deleted and made again, as a USB adapter pulled and put back: found again by its name."""
    sender, receiver = rig.sender(), rig.receiver()
    assert rig.comes_back(sender, receiver, GROUP)
    rig.cable.unplug()
    rig.send(sender, b"lost", GROUP)
    rig.send(sender, b"lost", rig.cable.far.address)
    assert sender.counters.errors == {"ENODEV": 2}
    assert "the chosen interface is gone" in str(sender.complaints)
    rig.cable.plug()
    # The far end was made anew too, and what a controller joins when it comes up is lost with the old one.
    receiver.close()
    receiver = rig.receiver()
    assert rig.comes_back(sender, receiver, GROUP)
    assert rig.comes_back(sender, receiver, rig.cable.far.address)


def test_a_stream_outlives_a_change_of_address(rig: Rig):
    """Sockets are bound to no address: the next packet comes from the new one."""
    near, far = rig.cable.near, rig.cable.far
    sender, receiver = rig.sender(), rig.receiver()
    assert rig.comes_back(sender, receiver, GROUP)
    near.ip("address", "flush", "dev", near.interface)
    near.ip("address", "add", "10.61.0.77/24", "dev", near.interface)
    for address in (GROUP, far.address):
        rig.send(sender, b"moved", address)
        assert {each.source[0] for each in rig.heard(receiver)} == {"10.61.0.77"}
    assert not sender.counters.errors


@pytest.mark.parametrize("ttl", [1, 7])
def test_a_group_arrives_with_its_address_and_time_to_live(rig: Rig, ttl: int):
    """Heard by a plain socket with IP_RECVTTL, ip(7)."""
    far = rig.cable.far
    sender = rig.sender(ttl=ttl)
    with far.inside(), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as plain:
        plain.bind((GROUP, PORT))
        request = socket.inet_aton(GROUP) + socket.inet_aton(far.address)
        plain.setsockopt(socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP, request)
        plain.setsockopt(socket.IPPROTO_IP, 12, 1)  # IP_RECVTTL
        plain.settimeout(DEADLINE_S)
        rig.send(sender, b"frame", GROUP)
        payload, ancillary, _, source = plain.recvmsg(100, 100)
    assert (payload, source[0]) == (b"frame", rig.cable.near.address)
    assert [struct.unpack("=i", data)[0] for _, kind, data in ancillary if kind == socket.IP_TTL] == [ttl]


def test_a_yard_on_the_sending_host_hears_the_groups_too(rig: Rig):
    """ip(7), IP_MULTICAST_LOOP: a copy comes back by the interface that the group is sent out of."""
    near = rig.cable.near
    with near.inside(), UdpReceiver(PORT, groups=[GROUP], interface=find_interface(near.interface)) as yard:
        rig.send(rig.sender(), b"frame", GROUP)
        assert [each.payload for each in rig.heard(yard)] == [b"frame"]


def test_a_hundred_groups_are_joined_and_each_heard_once(rig: Rig):
    """More than the 20 of a socket (net.ipv4.igmp_max_memberships). Reference for joins: `ip maddress`."""
    far = rig.cable.far
    groups = tuple(f"239.255.62.{number}" for number in range(100))
    sender, receiver = rig.sender(), rig.receiver(groups)
    joined = far.ip("maddress", "show", "dev", far.interface).split()
    assert set(groups) <= set(joined)
    with rig.cable.near.inside():
        sender.send(np.zeros((100, 8), np.uint8), np.arange(100), [(group, PORT) for group in groups])
    arrived: list[str | None] = []
    while len(arrived) < len(groups):
        arrived += [each.destination for each in rig.heard(receiver)]
    assert sorted(map(str, arrived)) == sorted(groups)


def test_loopback_addresses_never_go_onto_the_cable(rig: Rig):
    """RFC 1122 clause 3.2.1.3, although Linux lets a socket pinned to an interface ask for them there."""
    near = rig.cable.near
    sender = rig.sender()
    with near.inside(), UdpReceiver(PORT) as yard:
        rig.send(sender, b"for the yard", "127.0.0.1")
        assert [each.payload for each in rig.heard(yard)] == [b"for the yard"]
    assert "127.0.0.1" not in near.ip("neighbour")


def test_the_chosen_interface_carries_what_routes_would_send_elsewhere(rig: Rig):
    """The limited broadcast has no route here at all, and still arrives by the cable: RFC 919 clause 7."""
    receiver = rig.receiver()
    rig.send(rig.sender(broadcast=True), b"everyone", "255.255.255.255")
    assert [each.destination for each in rig.heard(receiver)] == ["255.255.255.255"]


def test_a_silent_host_is_named(rig: Rig):
    """No answer to ARP: EHOSTUNREACH comes back seconds later, and is blamed on the right address."""
    sender = rig.sender()
    rig.send(sender, b"lost", "10.61.0.99")
    pinned = sender._outgoing.to("10.61.0.99")
    poller = select.poll()
    poller.register(pinned, select.POLLERR)
    assert poller.poll(DEADLINE_S * 1000), "no error came back"
    rig.send(sender, b"frame", rig.cable.far.address)
    assert sender.counters.errors == {"EHOSTUNREACH": 1}
    assert "10.61.0.99 port 5568: nothing answers" in str(sender.complaints)
    assert sender.counters.packets == 2


def test_a_full_local_queue_is_not_silent(rig: Rig):
    """udp(7): without IP_RECVERR Linux reports success for packets that its own queue throws away."""
    near = rig.cable.near
    near.run(*f"tc qdisc add dev {near.interface} root tbf rate 1mbit burst 2kb limit 4kb".split())
    sender = rig.sender()
    with near.inside():
        sender.send(np.zeros((200, 638), np.uint8), np.arange(200), [(GROUP, PORT)] * 200)
    assert sender.counters.errors["ENOBUFS"] > 100
    assert sender.counters.packets + sender.counters.errors["ENOBUFS"] == 200


def test_a_datagram_by_another_interface_is_a_stray(rig: Rig):
    """A receiver on the cable does not hear what its own host sends to itself over loopback."""
    far = rig.cable.far
    receiver = rig.receiver()
    with far.inside():
        local = UdpSender(None)
        local.send_one(b"from loopback", ("127.0.0.1", PORT))
        local.close()
    rig.send(rig.sender(), b"by the cable", far.address)
    assert [each.payload for each in rig.heard(receiver)] == [b"by the cable"]
    assert receiver.strays == 1


def test_the_way_to_an_address_is_the_systems_own(rig: Rig):
    """The cable for its network; none for a network without a route."""
    with rig.cable.near.inside():
        towards = interface_towards(rig.cable.far.address)
        nowhere = interface_towards("198.51.100.1")
    assert towards is not None
    assert towards.name == rig.cable.near.interface
    assert nowhere is None


@pytest.mark.parametrize(
    ("fault", "expected"),
    [
        (lambda cable: None, [True, True]),  # noqa: ARG005  no fault
        (lambda cable: cable.far.ip("link", "set", cable.far.interface, "down"), [True, False]),
        (lambda cable: cable.near.ip("link", "set", cable.near.interface, "down"), [False, None]),
    ],
)
def test_a_dead_cable_and_a_down_interface_are_told_apart(
    rig: Rig, fault: Callable[[Cable], object], expected: list[bool | None]
):
    """Up and carrier, as Linux's /sys/class/net tells them."""
    fault(rig.cable)
    near = rig.cable.near
    script = (
        "import json; from streamer.net.interfaces import list_interfaces; "
        "told = {i.name: [i.is_up, i.has_carrier] for i in list_interfaces()}; "
        f"print(json.dumps(told[{near.interface!r}]))"
    )
    assert json.loads(near.run(sys.executable, "-c", script)) == expected
