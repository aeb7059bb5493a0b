"""Few calls or many, receivers get the same; what the kernel refuses goes by the next way and is told."""

import errno
import socket
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest

from streamer.net.batched import BatchedSender, Kernel, open_sender, this_kernel
from streamer.net.interfaces import Interface
from streamer.net.linux import IS_LINUX
from streamer.net.mailing import DISPATCHES_KEPT, PAYLOAD_MAX_OCTETS, SEGMENTS_MAX
from streamer.net.mmsg import no_sendmmsg
from streamer.net.receiver import Datagram, UdpReceiver
from streamer.net.sender import Sender, UdpSender
from streamer.net.ways import MOST_TOLD, Way

pytestmark = pytest.mark.skipif(not IS_LINUX, reason="the calls are Linux's")
SO_NO_CHECK = 11
"""asm-generic/socket.h: without a checksum the kernel cannot cut, and says EINVAL (net/ipv4/udp.c)."""
GROUP = "239.255.61.{}"
LO = "127.0.0.1"
Heard = Callable[[UdpReceiver, int], list[Datagram]]
Listen = Callable[..., UdpReceiver]
Open = Callable[..., BatchedSender]


@dataclass
class Refusing:
    """The real calls, of which some are refused; it counts them, and the packets in each."""

    errors: list[int] = field(default_factory=list)
    """What the next calls are refused with, 0 for let through."""
    at_most: int = 1024
    """How many messages one call sends: sendmmsg(2) may stop early."""
    asked: list[int] = field(default_factory=list)
    is_real: bool = True
    """Whether what is let through is sent, not only said to be."""

    def kernel(self) -> Kernel:
        """Return the calls."""
        return Kernel(self._sendmsg, self._sendmmsg)

    def _meet(self, asked: int) -> None:
        self.asked.append(asked)
        number = self.errors.pop(0) if self.errors else 0
        if number:
            raise OSError(number, "refused by the test")

    def _sendmsg(self, sock: socket.socket, buffers: list[memoryview], *rest: Any) -> int:
        self._meet(len(buffers[0]))
        return sock.sendmsg(buffers, *rest) if self.is_real else len(buffers[0])

    def _sendmmsg(self, descriptor: int, messages: int, count: int) -> int:
        self._meet(count)
        count = min(count, self.at_most)
        return this_kernel().sendmmsg(descriptor, messages, count) if self.is_real else count


def matrix(count: int, length: int = 638) -> np.ndarray:
    """Return packets that are all different, the same at every call."""
    return np.random.default_rng(count * length).integers(0, 256, (count, length), dtype=np.uint8)


def octets(packets: np.ndarray, rows: np.ndarray) -> list[bytes]:
    """Return what is to arrive."""
    return [packets[row].tobytes() for row in rows]


@pytest.mark.parametrize("only", [None, *Way])
@pytest.mark.parametrize("length", [638, 530, 127, 1])
@pytest.mark.parametrize("count", [1, 2, 64, 65, 129, 1000])
def test_every_way_sends_the_same_datagrams(  # noqa: PLR0913, PLR0917  the table's columns
    lo: Interface, listen: Listen, heard: Heard, count: int, length: int, only: Way | None
):
    """Lengths of E1.31 and ArtDmx packets of 512 slots, an odd one and the shortest; in order, whole."""
    packets, receiver = matrix(count, length), listen()
    sender = open_sender(lo, only=only)
    sender.send(packets, np.arange(count), ((LO, receiver.port),) * count)
    assert [each.payload for each in heard(receiver, count)] == octets(packets, np.arange(count))
    assert (sender.counters.packets, sender.counters.octets) == (count, count * length)
    sender.close()


@pytest.mark.parametrize("only", [None, *Way])
def test_the_rows_that_are_due_arrive_in_order_whatever_their_destinations(
    lo: Interface, listen: Listen, heard: Heard, only: Way | None
):
    """Scattered rows to three hosts by turns, frame after frame with other contents and other rows."""
    receivers = [listen() for _ in range(3)]
    packets = matrix(300)
    destinations = tuple((LO, receivers[row % 3].port) for row in range(300))
    sender = open_sender(lo, only=only)
    for frame in range(4):
        packets += 1
        rows = np.flatnonzero((np.arange(300) + frame) % (3 + frame % 2) != 0)
        sender.send(packets, rows, destinations)
        for number, receiver in enumerate(receivers):
            mine = octets(packets, rows[rows % 3 == number])
            assert [each.payload for each in heard(receiver, len(mine))] == mine
    sender.close()


@pytest.mark.parametrize("only", [None, *Way])
def test_each_group_gets_its_own_packet(lo: Interface, listen: Listen, heard: Heard, only: Way | None):
    """As E1.31 multicast has it: a group for each universe."""
    groups = [GROUP.format(number) for number in range(1, 101)]
    receiver = listen(0, groups=groups, interface=lo)
    packets = matrix(100)
    sender = open_sender(lo, only=only)
    sender.send(packets, np.arange(100), tuple((group, receiver.port) for group in groups))
    got = {each.destination: each.payload for each in heard(receiver, 100)}
    assert got == dict(zip(groups, octets(packets, np.arange(100)), strict=True))
    sender.close()


@pytest.mark.parametrize("only", [None, *Way])
@pytest.mark.parametrize("count", [1, 3, 70])
def test_ipv6_goes_the_same_ways(lo: Interface, count: int, only: Way | None):
    """To ::1, RFC 4291 clause 2.5.3."""
    packets, sender = matrix(count), open_sender(lo, only=only)
    with socket.socket(socket.AF_INET6, socket.SOCK_DGRAM) as receiver:
        receiver.bind(("::1", 0))
        receiver.settimeout(2)
        sender.send(packets, np.arange(count), (("::1", receiver.getsockname()[1]),) * count)
        assert [receiver.recv(2048) for _ in range(count)] == octets(packets, np.arange(count))
    assert not sender.counters.errors
    sender.close()


@pytest.mark.parametrize("only", [None, *Way])
def test_ipv6_refusals_are_blamed_on_the_destination_that_refused(lo: Interface, only: Way | None):
    """ipv6(7), IPV6_RECVERR: the ICMPv6 answer fails a later send, to another destination; that one goes."""
    sender, packets = open_sender(lo, only=only), matrix(4)
    with socket.socket(socket.AF_INET6, socket.SOCK_DGRAM) as living:
        living.bind(("::1", 0))
        living.settimeout(2)
        with socket.socket(socket.AF_INET6, socket.SOCK_DGRAM) as dead:
            dead.bind(("::1", 0))
            nobody = dead.getsockname()[:2]
        for _ in range(3):
            sender.send(packets, np.arange(4), (nobody, *(living.getsockname()[:2],) * 3))
        got = [living.recv(2048) for _ in range(9)]
    assert got == octets(packets, np.arange(1, 4)) * 3
    assert set(sender.counters.errors) == {"ECONNREFUSED"}
    assert f"::1 port {nobody[1]}: the host is there" in str(sender.complaints)
    sender.close()


def test_calls_stay_within_what_every_kernel_takes(opened: Open, listen: Listen):
    """64 packets, UDP_MAX_SEGMENTS of Linux before 2024, and 65,507 octets: RFC 768."""
    for length in (1, 638, 1400, 30_000):
        calls = Refusing()
        sender = opened(kernel=calls.kernel())
        sender.send(matrix(129, length), np.arange(129), ((LO, listen().port),) * 129)
        assert max(calls.asked) <= min(PAYLOAD_MAX_OCTETS, SEGMENTS_MAX * length)
        assert sum(calls.asked) == 129 * length


def test_what_a_kernel_really_refuses_goes_the_next_way_and_none_is_lost(
    opened: Open, listen: Listen, heard: Heard
):
    """A real EINVAL; it is remembered, told, and no error of the person's."""
    sender, receiver = opened(), listen()
    packets, destinations = matrix(100), ((LO, receiver.port),) * 100
    sender.send(packets, np.arange(100), destinations)
    assert sender.ways == {LO: "offload"}
    sender._outgoing.to(LO).setsockopt(socket.SOL_SOCKET, SO_NO_CHECK, 1)
    sender.send(packets, np.arange(100), destinations)
    assert [each.payload for each in heard(receiver, 200)] == octets(packets, np.arange(100)) * 2
    assert sender.ways == {LO: "sendmmsg: offload refused (EINVAL)"}
    assert (sender.counters.packets, dict(sender.counters.errors)) == (200, {})


@pytest.mark.parametrize("name", ["EIO", "EINVAL", "ENOPROTOOPT", "EMSGSIZE", "ENOTSUP"])
def test_a_refusal_to_cut_is_met_once_for_each_destination(
    opened: Open, listen: Listen, heard: Heard, name: str
):
    """Drivers say EIO, old kernels ENOPROTOOPT; the other destination goes on as before."""
    calls, receivers = Refusing([getattr(errno, name)]), [listen(0, LO), listen(0, "127.0.0.2")]
    sender, packets = opened(kernel=calls.kernel()), matrix(200)
    destinations = tuple((f"127.0.0.{row % 2 + 1}", receivers[row % 2].port) for row in range(200))
    for _ in range(2):
        sender.send(packets, np.arange(200), destinations)
    for number, receiver in enumerate(receivers):
        wanted = octets(packets, np.arange(number, 200, 2)) * 2
        assert [each.payload for each in heard(receiver, 200)] == wanted
    assert sender.ways == {LO: f"sendmmsg: offload refused ({name})", "127.0.0.2": "offload"}
    assert not sender.counters.errors


def test_a_kernel_that_does_not_know_how_to_cut_is_never_asked_to(opened: Open, listen: Listen, heard: Heard):
    """udp(7), UDP_SEGMENT, since Linux 4.18: one before that would send all as one datagram, silently."""

    def setsockopt(sock: socket.socket, *option: int) -> None:
        assert (sock.type, option) == (socket.SOCK_DGRAM, (17, 103, 0))  # linux/udp.h
        raise OSError(errno.ENOPROTOOPT, "refused by the test")

    calls, receiver = Refusing(), listen()
    kernel = Kernel(calls.kernel().sendmsg, this_kernel().sendmmsg, setsockopt)
    sender, packets = opened(kernel=kernel), matrix(100)
    sender.send(packets, np.arange(100), ((LO, receiver.port),) * 100)
    assert [each.payload for each in heard(receiver, 100)] == octets(packets, np.arange(100))
    assert calls.asked == []
    assert sender.ways == {LO: "sendmmsg: offload refused (ENOPROTOOPT)"}


def test_what_a_kernel_really_refuses_over_ipv6_goes_the_next_way_too(opened: Open):
    """A real EINVAL: without a checksum it does not cut (net/ipv6/udp.c), UDP_NO_CHECK6_TX of linux/udp.h."""
    sender, packets = opened(), matrix(100)
    with socket.socket(socket.AF_INET6, socket.SOCK_DGRAM) as receiver:
        receiver.setsockopt(17, 102, 1)  # UDP_NO_CHECK6_RX
        receiver.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4 << 20)
        receiver.bind(("::1", 0))
        receiver.settimeout(2)
        destinations = (("::1", receiver.getsockname()[1]),) * 100
        sender._outgoing.to("::1").setsockopt(17, 101, 1)
        sender.send(packets, np.arange(100), destinations)
        assert [receiver.recv(2048) for _ in range(100)] == octets(packets, np.arange(100))
    assert sender.ways == {"::1": "sendmmsg: offload refused (EINVAL)"}
    assert (sender.counters.packets, dict(sender.counters.errors)) == (100, {})


def test_a_zone_is_looked_up_at_each_send(opened: Open):
    """RFC 4007: many to one address as one, a lone packet by sendto, and what is gone is counted by name."""
    sender, packets = opened(), matrix(3)
    for _ in range(2):
        sender.send(packets, np.arange(3), (*(("fe80::7%gone0", 9),) * 2, ("fe80::8%gone0", 9)))
    assert set(sender.counters.errors) == {"ENODEV"}
    assert sender.ways == {"fe80::7%gone0": "offload", "fe80::8%gone0": "sendto"}


@pytest.mark.parametrize("address", [LO, "192.168.7.20", "::1", "fd00:7::20", "fe80::7%lo"])
def test_what_comes_back_for_earlier_datagrams_is_asked_for_on_every_socket(opened: Open, address: str):
    """ip(7), IP_RECVERR, 11; ipv6(7), IPV6_RECVERR, 25: or else a full local queue is silent."""
    sock = opened()._outgoing.to(address)
    option = (socket.IPPROTO_IPV6, 25) if ":" in address else (socket.IPPROTO_IP, 11)
    assert sock.getsockopt(*option) == 1


def test_without_sendmmsg_the_rest_goes_by_sendto(opened: Open, listen: Listen, heard: Heard):
    """ENOSYS, of an old kernel, a filter or a C library without it: told, and nothing is lost."""
    calls = Refusing()
    sender = opened(kernel=Kernel(calls.kernel().sendmsg, no_sendmmsg))
    first, second = listen(0, LO), listen(0, "127.0.0.2")
    packets = matrix(5)
    destinations = ((LO, first.port), *(("127.0.0.2", second.port),) * 4)
    for _ in range(2):
        sender.send(packets, np.arange(5), destinations)
    assert [each.payload for each in heard(first, 2)] == octets(packets, np.array([0, 0]))
    assert [each.payload for each in heard(second, 8)] == octets(packets, np.arange(1, 5)) * 2
    assert sender.ways == {LO: "sendto: sendmmsg refused (ENOSYS)", "127.0.0.2": "offload"}
    assert not sender.counters.errors


def test_a_call_that_stops_early_is_taken_up_where_it_stopped(opened: Open, listen: Listen, heard: Heard):
    """sendmmsg(2): "the number of messages sent; if this is less than vlen, the caller can retry"."""
    calls, receiver = Refusing(at_most=7), listen()
    sender, packets = opened(only=Way.SENDMMSG, kernel=calls.kernel()), matrix(100)
    sender.send(packets, np.arange(100), ((LO, receiver.port),) * 100)
    assert [each.payload for each in heard(receiver, 100)] == octets(packets, np.arange(100))
    assert calls.asked == list(range(100, 0, -7))


@pytest.mark.parametrize(
    "name", ["ENOBUFS", "ENETDOWN", "ENETUNREACH", "EPERM", "ECONNREFUSED", "EHOSTUNREACH"]
)
def test_one_refused_packet_costs_no_other(opened: Open, listen: Listen, heard: Heard, name: str):
    """The third of five calls is refused: that packet is counted by the errno's name, the rest goes."""
    calls, receiver = Refusing([0, 0, getattr(errno, name)], at_most=1), listen()
    sender, packets = opened(only=Way.SENDMMSG, kernel=calls.kernel()), matrix(5)
    sender.send(packets, np.arange(5), ((LO, receiver.port),) * 5)
    assert [each.payload for each in heard(receiver, 4)] == octets(packets, np.array([0, 1, 3, 4]))
    assert (sender.counters.packets, dict(sender.counters.errors)) == (4, {name: 1})


@pytest.mark.parametrize("only", [Way.OFFLOAD, Way.SENDMMSG])
def test_a_buffer_that_is_full_for_a_moment_costs_nothing(
    opened: Open, listen: Listen, heard: Heard, only: Way
):
    """EAGAIN once, udp(7): there is room a moment later, and the same packets go."""
    calls, receiver = Refusing([errno.EAGAIN]), listen()
    sender, packets = opened(only=only, kernel=calls.kernel()), matrix(5)
    sender.send(packets, np.arange(5), ((LO, receiver.port),) * 5)
    assert [each.payload for each in heard(receiver, 5)] == octets(packets, np.arange(5))
    assert not sender.counters.errors


@pytest.mark.parametrize("only", [Way.OFFLOAD, Way.SENDMMSG])
def test_a_buffer_that_stays_full_is_counted_by_the_packet(opened: Open, only: Way):
    """Every call is refused, and each only once more: nothing waits for ever."""
    calls = Refusing([errno.EAGAIN] * 20)
    sender = opened(only=only, kernel=calls.kernel())
    sender.send(matrix(5), np.arange(5), ((LO, 9),) * 5)
    assert (sender.counters.packets, dict(sender.counters.errors)) == (0, {"EAGAIN": 5})
    assert len(calls.asked) <= 2 * 5


def test_a_refused_train_is_counted_by_the_packet(opened: Open, listen: Listen, heard: Heard):
    """64 of 100 are refused together; the other 36 go, and it is no reason to change the way."""
    calls, receiver = Refusing([errno.ENOBUFS]), listen()
    sender, packets = opened(kernel=calls.kernel()), matrix(100)
    sender.send(packets, np.arange(100), ((LO, receiver.port),) * 100)
    assert [each.payload for each in heard(receiver, 36)] == octets(packets, np.arange(64, 100))
    assert (sender.counters.packets, dict(sender.counters.errors)) == (36, {"ENOBUFS": 64})
    assert sender.ways == {LO: "offload"}


@pytest.mark.parametrize("only", [None, *Way])
def test_hosts_that_do_not_listen_cost_the_living_nothing(
    lo: Interface, listen: Listen, heard: Heard, only: Way | None
):
    """ip(7), IP_RECVERR: ECONNREFUSED of an earlier datagram comes with a later send, whoever that is for."""
    living, packets = listen(), matrix(90)
    with listen(0, "127.0.0.2") as dead, listen(0, "127.0.0.3") as also_dead:
        nobody = [("127.0.0.2", dead.port), ("127.0.0.3", also_dead.port)]
    destinations = tuple([*nobody, (LO, living.port)] * 30)
    sender = open_sender(lo, only=only)
    for _ in range(3):
        sender.send(packets, np.arange(90), destinations)
    assert [each.payload for each in heard(living, 90)] == octets(packets, np.arange(2, 90, 3)) * 3
    assert set(sender.counters.errors) == {"ECONNREFUSED"}
    assert {each.split()[0] for each in sender.complaints} == {"127.0.0.2", "127.0.0.3"}
    sender.close()


def test_an_address_that_is_none_is_refused_and_the_others_go(opened: Open, listen: Listen, heard: Heard):
    """EDESTADDRREQ, send(2); no name server is asked, and nothing is raised."""
    receiver, packets = listen(), matrix(3)
    sender = opened(only=Way.SENDMMSG)
    sender.send(packets, np.arange(3), ((LO, receiver.port), ("boathouse", 9), (LO, receiver.port)))
    assert [each.payload for each in heard(receiver, 2)] == octets(packets, np.array([0, 2]))
    assert sender.counters.errors == {"EDESTADDRREQ": 1}


def test_ways_are_few_enough_for_a_status(opened: Open):
    """All groups are one line, and hosts without a refusal are left out first."""
    calls = Refusing([errno.EIO])
    sender = opened(kernel=calls.kernel())
    hosts = [f"127.0.{number // 200}.{number % 200 + 1}" for number in range(300) for _ in range(2)]
    groups = [GROUP.format(number) for number in range(1, 101)]
    destinations = tuple((address, 9) for address in hosts + groups)
    sender.send(matrix(700, 8), np.arange(700), destinations)
    assert len(sender.ways) == MOST_TOLD
    assert sender.ways["127.0.0.1"] == "sendmmsg: offload refused (EIO)"
    assert sender.ways["multicast"] == "sendmmsg"


def test_memory_is_bounded_whatever_rows_are_due(opened: Open, listen: Listen):
    """Patterns change which rows are due at every frame; runs begin again and again."""
    sender, receiver = opened(), listen()
    packets, destinations = matrix(12, 8), ((LO, receiver.port),) * 12
    for number in range(1, 2 * DISPATCHES_KEPT):
        sender.send(packets, np.flatnonzero([number >> row & 1 for row in range(12)]), destinations)
    (mailing,) = sender._mailings
    assert len(mailing._dispatches) == DISPATCHES_KEPT


def test_what_a_run_left_behind_is_forgotten(opened: Open, listen: Listen):
    """A batch is sent each second at the least; one that rests is over."""
    now_s = 0.0
    sender, destinations = opened(clock=lambda: now_s), ((LO, listen().port),) * 2
    for run in range(30):
        now_s = run * 6.0
        sender.send(matrix(2, 8), np.arange(2), destinations)
    assert len(list(sender._mailings)) <= 2


def test_a_list_of_destinations_may_change_between_calls(opened: Open, listen: Listen, heard: Heard):
    """Only what cannot change is remembered by its identity."""
    receivers, packets = [listen(), listen()], matrix(4)
    sender, destinations = opened(), [(LO, receivers[0].port)] * 4
    sender.send(packets, np.arange(4), destinations)
    destinations[:] = [(LO, receivers[1].port)] * 4
    sender.send(packets, np.arange(4), destinations)
    assert [len(heard(each, 4)) for each in receivers] == [4, 4]


def test_a_matrix_that_is_not_in_one_piece_is_refused(opened: Open):
    """Its octets could not be found again: better no packet than a wrong one."""
    with pytest.raises(ValueError, match="one after another"):
        opened().send(matrix(8)[::2], np.arange(4), ((LO, 9),) * 4)


def test_no_rows_are_no_packets(opened: Open):
    """Nothing is due."""
    sender = opened()
    sender.send(matrix(4), np.zeros(0, np.intp), ((LO, 9),) * 4)
    assert sender.counters.packets == 0


def test_after_closing_packets_are_refused_not_sent_and_nothing_raises(opened: Open):
    """EBADF, of an engine that ends twice, by a signal and by itself."""
    sender = opened()
    sender.close()
    for address in (LO, "::1"):
        sender.send(matrix(4), np.arange(4), ((address, 9),) * 4)
    sender.close()
    assert sender.counters.errors == {"EBADF": 8}


def test_one_way_can_be_asked_for(lo: Interface, listen: Listen):
    """For measuring one beside the other."""
    for only, told in (
        (None, {LO: "offload"}),
        (Way.OFFLOAD, {LO: "offload"}),
        (Way.SENDMMSG, {LO: "sendmmsg"}),
        (Way.SENDTO, {}),
    ):
        sender: Sender = open_sender(lo, only=only)
        sender.send(matrix(4), np.arange(4), ((LO, listen().port),) * 4)
        assert dict(sender.ways) == told
        assert isinstance(sender, UdpSender)
        sender.close()
