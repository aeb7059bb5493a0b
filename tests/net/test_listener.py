"""Listening on real sockets of loopback: everything once, nothing taken from others, drops told."""

import select
import socket
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack

import numpy as np
import pytest

from streamer.errors import NetworkError
from streamer.net.arrivals import ROW_OCTETS, ROWS_MAX, Arrivals, address_text, destination_text
from streamer.net.interfaces import Interface
from streamer.net.linux import IS_LINUX
from streamer.net.listener import OLDEST_S, Listener, Moment
from streamer.net.receiver import UdpReceiver
from streamer.net.sender import UdpSender
from tests.net.ports import free_port

pytestmark = pytest.mark.skipif(not IS_LINUX, reason="what is promised here is Linux's")

APART_MOST_S = 0.001
DEADLINE_S = 5.0
GROUPS = tuple(f"239.255.62.{number}" for number in range(1, 66))
"""More than three sockets may join: ip(7), igmp_max_memberships is 20."""
SMALL_OCTETS = 2_048
WAYS = ["recvmmsg", "recvmsg"]
Open = Callable[..., Listener]


@pytest.fixture(name="open_listener")
def _open(lo: Interface) -> Iterator[Open]:
    """Open listeners on loopback, on a free port unless told, that are closed when the test ends."""
    with ExitStack() as stack:
        yield lambda port=0, **more: stack.enter_context(Listener(port or free_port(), lo, **more))


def now() -> Moment:
    """Return the time, by both clocks as good as at once: another process may come between two readings."""
    while True:
        moment = Moment(time.monotonic(), time.time_ns())
        if time.monotonic() - moment.now_s < APART_MOST_S:
            return moment


def later() -> Moment:
    """Return the time in half a second."""
    moment = now()
    return Moment(moment.now_s + 0.5, moment.wall_ns + 500_000_000)


def payloads(arrivals: Arrivals) -> list[bytes]:
    """Return what came."""
    lengths = arrivals.lengths.tolist()
    return [octets[:length].tobytes() for octets, length in zip(arrivals.octets, lengths, strict=True)]


def heard(listener: Listener, count: int) -> list[bytes]:
    """Wait for so many datagrams, and return all that have arrived."""
    found: list[bytes] = []
    while len(found) < count:
        ready = select.select([listener], [], [], DEADLINE_S)[0]
        assert ready, f"only {len(found)} of {count} arrived"
        found += payloads(listener.read(now()))
    return found + payloads(listener.read(now()))


@pytest.mark.parametrize("way", WAYS)
def test_every_group_is_heard_once_however_many_there_are(open_listener: Open, sender: UdpSender, way: str):
    """Beyond the 20 of one socket, and beside another listener on the same port, which hears them too."""
    one = open_listener(by_many=way == "recvmmsg")
    two = open_listener(one.port, by_many=way == "recvmmsg")
    one.join(GROUPS)
    for group in GROUPS:
        sender.send_one(group.encode(), (group, one.port))
    for listener in (one, two):
        assert sorted(heard(listener, len(GROUPS))) == sorted(group.encode() for group in GROUPS)


@pytest.mark.parametrize("way", WAYS)
def test_a_datagram_comes_with_its_sender_its_destination_and_its_moment(open_listener: Open, way: str):
    """The moment is the kernel's, however late it is read: SO_TIMESTAMPNS, socket(7)."""
    listener = open_listener(by_many=way == "recvmmsg")
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.bind(("127.0.0.9", 0))
        before_s = time.monotonic()
        sock.sendto(b"node 37", ("127.0.0.3", listener.port))
        after_s = time.monotonic()
    arrivals = listener.read(later())
    assert payloads(arrivals) == [b"node 37"]
    assert address_text(arrivals.names[0]) == "127.0.0.9"
    assert destination_text(arrivals.destinations[0]) == "127.0.0.3"
    assert before_s - 0.002 <= arrivals.heard_s[0] <= after_s + 0.002


def test_a_stamp_from_before_the_clock_was_set_is_not_believed(open_listener: Open):
    """Neither one that is too old nor one of the future."""
    listener = open_listener()
    for wrong_ns in (int(-2 * OLDEST_S * 1e9), int(2 * OLDEST_S * 1e9)):
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
            sock.sendto(b"x", ("127.0.0.1", listener.port))
        arrivals = listener.read(Moment(1000.0, time.time_ns() + wrong_ns))
        assert arrivals.heard_s.tolist() == [1000.0]


@pytest.mark.parametrize("way", WAYS)
def test_many_wait_and_come_in_their_order(open_listener: Open, way: str):
    """More than one reading takes, of every length, the longest cut to a row."""
    listener = open_listener(by_many=way == "recvmmsg")
    lengths = np.random.default_rng(1).integers(1, 2 * ROW_OCTETS, ROWS_MAX + 50).tolist()
    sent = [bytes([number % 251]) * length for number, length in enumerate(lengths)]
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        for payload in sent:
            sock.sendto(payload, ("127.0.0.1", listener.port))
    first, has_more = payloads(listener.read(now())), listener.has_more
    rest = payloads(listener.read(now()))
    assert (has_more, listener.has_more) == (True, False)
    assert first + rest == [payload[:ROW_OCTETS] for payload in sent]


def test_what_is_for_another_program_is_left_to_it(open_listener: Open, lo: Interface, sender: UdpSender):
    """A receiver that had the port first keeps its unicast; both hear the group."""
    with UdpReceiver(free_port(), "", [GROUPS[0]], lo) as receiver:
        listener = open_listener(receiver.port)
        for address in ("127.0.0.1", GROUPS[0]):
            sender.send_one(address.encode(), (address, receiver.port))
        assert heard(listener, 1) == [GROUPS[0].encode()]
        assert [each.payload for each in receiver.receive(9)] == [b"127.0.0.1", GROUPS[0].encode()]


def test_a_second_receiver_is_still_refused(lo: Interface):
    """Only those who ask to share are let in: UdpReceiver takes its port for itself."""
    with UdpReceiver(0, "", [GROUPS[0]], lo) as receiver, pytest.raises(NetworkError, match="held by"):
        UdpReceiver(receiver.port)


def test_what_the_kernel_drops_is_told_exactly_and_at_once(open_listener: Open):
    """SO_MEMINFO has the count of SO_RXQ_OVFL before another datagram comes; the buffer is read back."""
    listener = open_listener(buffer_octets=SMALL_OCTETS)
    assert listener.buffer_octets < 2 * 212_992
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        for _ in range(500):
            sock.sendto(bytes(638), ("127.0.0.1", listener.port))
    dropped = listener.dropped
    came = len(listener.read(now()))
    assert 0 < came < 500
    assert dropped == 500 - came


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("to", ["127.0.0.3", GROUPS[0], "::1"])
def test_each_datagram_says_how_many_were_dropped_before_it(open_listener: Open, way: str, to: str):
    """SO_RXQ_OVFL, socket(7): none before those that the buffer held, all of them before the next one.

    That one still comes with its sender, its destination and its moment.
    """
    listener = open_listener(buffer_octets=SMALL_OCTETS, by_many=way == "recvmmsg")
    listener.join([each for each in (to,) if each in GROUPS])
    family = socket.AF_INET6 if ":" in to else socket.AF_INET
    with socket.socket(family, socket.SOCK_DGRAM) as sock:
        if family == socket.AF_INET:
            sock.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton("127.0.0.1"))
            sock.bind(("127.0.0.9", 0))
        for _ in range(200):
            sock.sendto(bytes(638), (to, listener.port))
        held = listener.read(now())
        assert 0 < len(held) < 200
        assert held.dropped.tolist() == [0] * len(held)
        dropped = 200 - len(held)
        before_s = time.monotonic()
        sock.sendto(b"node 37", (to, listener.port))
        after_s = time.monotonic()
    arrivals = listener.read(later())
    assert payloads(arrivals) == [b"node 37"]
    assert arrivals.dropped.tolist() == [dropped] == [listener.dropped]
    assert destination_text(arrivals.destinations[0]) == to
    assert address_text(arrivals.names[0]) == ("::1" if ":" in to else "127.0.0.9")
    assert before_s - 0.01 <= arrivals.heard_s[0] <= after_s + 0.01


def test_what_is_ignored_is_not_taken_for_dropped_before_a_datagram(open_listener: Open):
    """Meanwhile the count stands still, and goes on from there."""
    listener = open_listener(buffer_octets=SMALL_OCTETS)

    def counts(*payloads_sent: bytes) -> list[int]:
        for payload in payloads_sent:
            sock.sendto(payload, ("127.0.0.1", listener.port))
        dropped: list[int] = listener.read(now()).dropped.tolist()
        return dropped

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        held = counts(*[b"jetty" + bytes(600)] * 200)
        dropped = 200 - len(held)
        listener.ignore(0, b"ours")
        assert counts(b"ours", b"ours", b"their") == [dropped]
        listener.ignore_nothing()
        assert counts(b"ours", b"their") == [dropped, dropped]
        assert listener.dropped == dropped


def test_a_datagram_by_another_interface_is_a_stray(lo: Interface):
    """Given an interface, only that one is heard."""
    other = Interface("shed0", lo.index + 1, (), True, True, False, False, True)
    with Listener(free_port(), other) as listener, socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.sendto(b"x", ("127.0.0.1", listener.port))
        assert len(listener.read(now())) == 0
        assert listener.strays == 1


def test_datagrams_that_hold_certain_octets_are_ignored(open_listener: Open):
    """All of them must be the same, at the same place; shorter datagrams are ignored too."""
    listener = open_listener()
    assert listener.ignore(3, b"jetty123")
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        for payload in (
            b"abcjetty123",
            b"abcjetty124",
            b"abcJetty123xyz",
            b"abc",
            b"abdjetty123!",
            b"abjetty1234",
        ):
            sock.sendto(payload, ("127.0.0.1", listener.port))
    assert heard(listener, 3) == [b"abcjetty124", b"abcJetty123xyz", b"abjetty1234"]


def test_a_group_that_cannot_be_joined_is_told_in_words(open_listener: Open):
    """And no other is joined by halves."""
    with pytest.raises(NetworkError, match="not a multicast group"):
        open_listener().join([GROUPS[0], "10.61.0.1"])


def test_after_ignoring_ceased_everything_is_heard_and_drops_are_told_again(open_listener: Open):
    """The kernel counts what is ignored as dropped: it is no loss, so nothing is told meanwhile."""
    listener = open_listener()
    listener.ignore(0, b"ours")
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        for payload in (b"ours", b"ours", b"their"):
            sock.sendto(payload, ("127.0.0.1", listener.port))
        assert heard(listener, 1) == [b"their"]
        assert listener.dropped is None
        listener.ignore_nothing()
        sock.sendto(b"ours", ("127.0.0.1", listener.port))
        assert heard(listener, 1) == [b"ours"]
    assert listener.dropped == 0


@pytest.mark.parametrize("groups", [(), ("ff18::8300:7",)])
def test_an_ipv6_receiver_may_come_after_listeners(
    open_listener: Open, lo: Interface, groups: tuple[str, ...]
):
    """Two of them already hold the port; it gets what is sent to it alone. A second receiver is refused."""
    listener = open_listener()
    open_listener(listener.port)
    with UdpReceiver(listener.port, "::1", groups, lo) as receiver:
        with socket.socket(socket.AF_INET6, socket.SOCK_DGRAM) as sock:
            sock.sendto(b"to the yard", ("::1", listener.port))
        assert [each.payload for each in receiver.receive(9)] == [b"to the yard"]
        assert len(listener.read(now())) == 0
        with pytest.raises(NetworkError, match="held by"):
            UdpReceiver(listener.port, "::1", groups, lo)
