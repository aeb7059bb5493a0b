"""Many packets in one call arrive as the same datagrams that a call for each would have sent."""

import socket
from collections.abc import Callable, Iterator

import numpy as np
import pytest

from streamer.net.interfaces import Interface
from streamer.net.offload import BY_OFFLOAD, OffloadSender
from streamer.net.receiver import Datagram, UdpReceiver
from streamer.net.sender import UdpSender

pytestmark = pytest.mark.skipif(not hasattr(socket, "SO_BINDTODEVICE"), reason="offload is Linux's")
SO_NO_CHECK = 11
"""asm-generic/socket.h: without a checksum the kernel cannot cut, and says EINVAL (net/ipv4/udp.c)."""
Heard = Callable[[UdpReceiver, int], list[Datagram]]


@pytest.fixture(name="offload")
def _offload(lo: Interface) -> Iterator[OffloadSender]:
    sender = OffloadSender(lo)
    yield sender
    sender.close()


def matrix(count: int, length: int) -> np.ndarray:
    """Return packets that are all different, the same at every call."""
    return np.random.default_rng(count * length).integers(0, 256, (count, length), dtype=np.uint8)


@pytest.fixture(name="both")
def _both(offload: OffloadSender, sender: UdpSender) -> tuple[UdpSender, UdpSender]:
    return offload, sender


@pytest.mark.parametrize("length", [638, 530, 127, 1])
@pytest.mark.parametrize("count", [1, 2, 63, 64, 65, 129, 1000])
def test_receivers_get_the_same_datagrams_either_way(
    both: tuple[UdpSender, UdpSender],
    listen: Callable[..., UdpReceiver],
    heard: Heard,
    count: int,
    length: int,
):
    """Lengths of E1.31 and ArtDmx packets of 512 slots, an odd one, and the shortest; in order, whole."""
    packets = matrix(count, length)
    for each in both:
        receiver = listen()
        each.send(packets, np.arange(count), (("127.0.0.1", receiver.port),) * count)
        got = [datagram.payload for datagram in heard(receiver, count)]
        assert got == [packet.tobytes() for packet in packets]
        assert (each.counters.packets, each.counters.octets) == (count, count * length)


def test_some_rows_to_several_addresses_each_arrive_in_order(
    offload: OffloadSender, listen: Callable[..., UdpReceiver], heard: Heard
):
    """Rows that are due are any of the matrix, and their destinations alternate."""
    receivers = [listen() for _ in range(3)]
    packets = matrix(300, 638)
    destinations = tuple(("127.0.0.1", receivers[row % 3].port) for row in range(300))
    rows = np.flatnonzero(np.arange(300) % 7 != 0)
    offload.send(packets, rows, destinations)
    for number, receiver in enumerate(receivers):
        mine = [packets[row].tobytes() for row in rows if row % 3 == number]
        assert [datagram.payload for datagram in heard(receiver, len(mine))] == mine


def test_where_the_kernel_refuses_the_same_packets_go_one_by_one_and_none_is_lost(
    offload: OffloadSender, listen: Callable[..., UdpReceiver], heard: Heard
):
    """A real refusal, EINVAL; it is remembered, told, and no error of the person's."""
    receiver = listen()
    packets, destinations = matrix(100, 638), (("127.0.0.1", receiver.port),) * 100
    offload.send(packets, np.arange(100), destinations)
    assert offload.ways == {"127.0.0.1": BY_OFFLOAD}
    offload._unpinned.setsockopt(socket.SOL_SOCKET, SO_NO_CHECK, 1)
    offload.send(packets, np.arange(100), destinations)
    payloads = [datagram.payload for datagram in heard(receiver, 200)]
    assert payloads == [packet.tobytes() for packet in packets] * 2
    assert offload.ways == {"127.0.0.1": "one by one: EINVAL"}
    assert offload.counters.packets == 200
    assert not offload.counters.errors


def test_a_host_that_does_not_listen_is_counted_and_hides_nothing_from_others(
    offload: OffloadSender, listen: Callable[..., UdpReceiver], heard: Heard
):
    """udp(7): ECONNREFUSED of an earlier datagram comes with the next send, whoever that is for."""
    gone = listen()
    closed_port = gone.port
    gone.close()
    receiver = listen()
    packets = matrix(40, 638)
    destinations = (("127.0.0.1", closed_port),) * 20 + (("127.0.0.1", receiver.port),) * 20
    for _ in range(3):
        offload.send(packets, np.arange(40), destinations)
    assert len(heard(receiver, 60)) == 60
    assert set(offload.counters.errors) == {"ECONNREFUSED"}


def test_no_rows_are_no_packets(offload: OffloadSender):
    """Nothing is due."""
    offload.send(matrix(4, 638), np.zeros(0, np.intp), (("127.0.0.1", 9),) * 4)
    assert offload.counters.packets == 0
