"""What is prepared goes as if it had been sent then and there, whatever has become of the way meanwhile."""

import errno
import gc
import socket
from collections.abc import Callable
from unittest.mock import patch

import numpy as np
import pytest

from streamer.net.batched import BatchedSender, Kernel
from streamer.net.hosts import CHECK_EACH_S, SILENT_S
from streamer.net.interfaces import Interface
from streamer.net.linux import IS_LINUX
from streamer.net.mailing import DISPATCHES_KEPT, MAILINGS_KEPT
from streamer.net.ways import Way
from tests.net.test_batched import LO, SO_NO_CHECK, Heard, Listen, Refusing, matrix, octets

pytestmark = pytest.mark.skipif(not IS_LINUX, reason="the calls are Linux's")
Open = Callable[..., BatchedSender]


@pytest.mark.parametrize("only", [None, *Way])
@pytest.mark.parametrize("rows", [np.arange(129), np.arange(0, 200, 3), np.array([5])])
def test_it_sends_the_packets_as_they_are_by_then(
    opened: Open, listen: Listen, heard: Heard, rows: np.ndarray, only: Way | None
):
    """Side by side, scattered, and a single one; written anew after it was prepared."""
    sender, receiver, packets = opened(only=only), listen(), matrix(200)
    (depart,) = sender.prepare([(packets, rows, ((LO, receiver.port),) * 200)])
    packets += 1
    assert sender.counters.packets == 0
    depart()
    assert [each.payload for each in heard(receiver, len(rows))] == octets(packets, rows)
    assert (sender.counters.packets, sender.counters.octets) == (len(rows), len(rows) * 638)


@pytest.mark.parametrize("name", ["EIO", "EINVAL", "EMSGSIZE"])
def test_what_cannot_be_cut_after_all_goes_the_next_way(
    opened: Open, listen: Listen, heard: Heard, name: str
):
    """The second of two trains is refused at its moment: none is lost, nor any prepared with them."""
    calls, receiver = Refusing([0, getattr(errno, name)]), listen()
    sender, packets, every = opened(kernel=calls.kernel()), matrix(100), np.arange(100)
    destinations = ((LO, receiver.port),) * 100
    departures = sender.prepare([(packets, every, destinations)] * 2)
    for depart in departures:
        depart()
    assert [each.payload for each in heard(receiver, 200)] == octets(packets, every) * 2
    assert sender.ways == {LO: f"sendmmsg: offload refused ({name})"}
    assert (sender.counters.packets, dict(sender.counters.errors)) == (200, {})


def test_a_real_refusal_is_met_too(opened: Open, listen: Listen, heard: Heard):
    """EINVAL of the kernel, which does not cut without a checksum."""
    sender, receiver, packets = opened(), listen(), matrix(10)
    (depart,) = sender.prepare([(packets, np.arange(10), ((LO, receiver.port),) * 10)])
    sender._outgoing.to(LO).setsockopt(socket.SOL_SOCKET, SO_NO_CHECK, 1)
    depart()
    assert [each.payload for each in heard(receiver, 10)] == octets(packets, np.arange(10))


def test_a_full_buffer_is_waited_for_and_a_full_queue_is_counted(opened: Open, listen: Listen, heard: Heard):
    """EAGAIN once costs nothing; ENOBUFS loses the train that it is said of, and no other."""
    calls, receiver = Refusing([errno.EAGAIN, 0, errno.ENOBUFS]), listen()
    sender, packets, every = opened(kernel=calls.kernel()), matrix(100), np.arange(100)
    sender.prepare([(packets, every, ((LO, receiver.port),) * 100)])[0]()
    lost = octets(packets, every[64:])
    assert [each.payload for each in heard(receiver, 64)] == octets(packets, every[:64])
    assert dict(sender.counters.errors) == {"ENOBUFS": len(lost)}


def test_news_of_earlier_datagrams_is_blamed_on_those(opened: Open, listen: Listen, heard: Heard):
    """ip(7), IP_RECVERR: refused for somebody else's sake, the packets go."""
    receiver, sender, packets = listen(), opened(), matrix(10)
    (depart,) = sender.prepare([(packets, np.arange(10), ((LO, receiver.port),) * 10)])
    with listen(0, "127.0.0.2") as dead:
        nobody = "127.0.0.2", dead.port
    sender.send_one(b"x", nobody)
    depart()
    assert [each.payload for each in heard(receiver, 10)] == octets(packets, np.arange(10))
    assert dict(sender.counters.errors) == {"ECONNREFUSED": 1}


@pytest.mark.parametrize("are_the_same", [False, True])
def test_of_a_cold_host_one_packet_goes_first(opened: Open, *, are_the_same: bool):
    """As unprepared: the rest of a first frame is lost while its hardware address is asked for.

    The very pieces of last time, which are prepared by looking whether anything has changed, as any others.
    """
    now_s, sent = [100.0], list[int]()

    def sendmsg(_sock: object, buffers: list[memoryview], *_rest: object) -> int:
        sent.append(len(buffers[0]) // 638)
        return len(buffers[0])

    def sendmmsg(_descriptor: int, _messages: int, count: int) -> int:
        sent.append(count)
        return count

    sender = opened(kernel=Kernel(sendmsg, sendmmsg), clock=lambda: now_s[0])
    packets, every, destinations = matrix(10), np.arange(10), (("192.0.2.1", 9),) * 10
    pieces = [(packets, every, destinations)]
    for passing_s in (0.0, 0.025, 0.025, SILENT_S + 1, 0.025):
        now_s[0] += passing_s
        sender.prepare(pieces if are_the_same else [*pieces])[0]()
    assert sent == [1, 10, 10, 1, 10]


@pytest.mark.parametrize(
    "refusals",
    [
        [],
        [errno.ENETUNREACH],
        *(
            pytest.param(each, marks=pytest.mark.slow)
            for each in ([errno.EAGAIN, errno.ENOBUFS], [errno.EIO])
        ),
    ],
)
@pytest.mark.parametrize(("choices", "matrices"), [(2 * DISPATCHES_KEPT, 1), (2, 2 * MAILINGS_KEPT)])
def test_what_is_of_no_use_any_more_is_let_go(
    lo: Interface, refusals: list[int], choices: int, matrices: int
):
    """In an engine nothing collects garbage: what is prepared and what is refused holds on to nothing."""
    calls = Refusing(is_real=False)
    sender, every = BatchedSender(lo, kernel=calls.kernel()), np.arange(choices + 1)
    gc.collect()
    gc.disable()
    try:
        for _ in range(matrices):
            packets, destinations = matrix(choices + 1, 8), ((LO, 9),) * (choices + 1)
            for first in range(choices):
                calls.errors = [*refusals]
                sender.prepare([(packets, every[first:], destinations)])[0]()
                calls.errors = [*refusals]
                sender.send(packets, every[first:], destinations)
        assert gc.collect() == 0
        sender.close()
        del sender
        assert gc.collect() == 0
    finally:
        gc.enable()


def test_the_very_pieces_of_last_time_are_prepared_in_no_time(opened: Open):
    """The same departures, until ways have changed, or the hosts are to be looked at again."""
    now_s, calls = [100.0], Refusing(is_real=False)
    sender = opened(kernel=calls.kernel(), clock=lambda: now_s[0])
    packets, every, destinations = matrix(10), np.arange(10), (("192.0.2.1", 9),) * 10
    _warm_up(sender, packets, now_s)
    pieces = [(packets, every, destinations)]
    first = sender.prepare(pieces)
    assert sender.prepare(pieces) is first
    assert sender.prepare([*pieces]) is not first
    again = sender.prepare(pieces)
    now_s[0] += CHECK_EACH_S + 1
    assert sender.prepare(pieces) is not again
    again = sender.prepare(pieces)
    calls.asked, calls.errors = [], [errno.ENETUNREACH]
    again[0]()
    sender.prepare(pieces)[0]()
    assert calls.asked == [10 * 638, 1]


def test_what_a_refusal_has_changed_holds_for_all_that_was_prepared(opened: Open):
    """ENETUNREACH at the first of two: by the second the host is cold again, and gets one packet."""
    now_s, calls = [100.0], Refusing(is_real=False)
    sender = opened(kernel=calls.kernel(), clock=lambda: now_s[0])
    packets, every, destinations = matrix(10), np.arange(10), (("192.0.2.1", 9),) * 10
    _warm_up(sender, packets, now_s)
    departures = sender.prepare([(packets, every, destinations)] * 2)
    calls.asked, calls.errors = [], [errno.ENETUNREACH]
    for depart in departures:
        depart()
    assert calls.asked == [10 * 638, 1]
    assert (sender.counters.packets, dict(sender.counters.errors)) == (11 + 1, {"ENETUNREACH": 10})


def test_a_cable_that_was_out_is_noticed_when_packets_are_prepared(opened: Open):
    """The kernel has forgotten the host's hardware address with it."""
    now_s, calls = [100.0], Refusing(is_real=False)
    sender = opened(kernel=calls.kernel(), clock=lambda: now_s[0])
    packets, every, destinations = matrix(10), np.arange(10), (("192.0.2.1", 9),) * 10
    _warm_up(sender, packets, now_s)
    calls.asked = []
    with patch.object(type(sender._carrier), "look", return_value=1):
        sender.prepare([(packets, every, destinations)])[0]()
    assert calls.asked == [1]


def _warm_up(sender: BatchedSender, packets: np.ndarray, now_s: list[float]) -> None:
    """Send one packet to a cold host, and all when it is warm."""
    for _ in range(2):
        sender.send(packets, np.arange(10), (("192.0.2.1", 9),) * 10)
        now_s[0] += 0.025
