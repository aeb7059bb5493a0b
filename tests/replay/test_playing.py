"""A capture streamed again: the same octets at their moments, and dark at the end, whenever that comes."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any
from uuid import UUID

import pytest

from streamer.capture.datagram import Datagram
from streamer.replay.playing import Edge, Played, play
from streamer.wire import artnet, e131
from streamer.wire.artnet import ArtDmx, ArtPoll, ArtSync, PollFlags
from streamer.wire.e131 import DataPacket, DiscoveryPacket, Options, SyncPacket
from tests.of_kind import of_kind

CID = UUID("6d0f5ac7-3d6b-4d0b-9f43-0c1f2fa7b1de")
MS = 1_000_000
GROUP, NODE = ("239.255.0.7", 5568), ("10.0.0.20", 6454)


@dataclass
class Bench:
    """A clock that only waiting moves, and what was sent when."""

    now_s: float = 100.0
    ends_at_s: float = float("inf")
    sent: list[tuple[float, bytes, tuple[str, int]]] = field(default_factory=list)

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        assert 0 < seconds <= 0.05, "the end is noticed within 50 ms"
        self.now_s += seconds

    def edge(self) -> Edge:
        """Return it as the edge."""
        return Edge(
            lambda: self.now_s,
            self.wait,
            lambda octets, to: self.sent.append((self.now_s - 100, octets, to)),
            lambda: self.now_s >= self.ends_at_s,
        )

    def play(self, *datagrams: Datagram, speed: float = 1.0, to: str | None = None) -> Played:
        """Play all of it, and return how it went."""
        *_, played = play(datagrams, self.edge(), speed, to)
        return played


def levels(at_ms: float, sequence: int = 1, slots: bytes = b"\xff" * 6, **more: Any) -> Datagram:
    """Return levels of universe 7 in a datagram."""
    packet = DataPacket(CID, "Lakeside", 7, slots, sequence, **more)
    return Datagram(int(at_ms * MS), ("192.0.2.1", 5568), GROUP, packet.encode())


def art(at_ms: float, packet: ArtDmx | ArtSync | ArtPoll) -> Datagram:
    """Return an Art-Net packet in a datagram."""
    return Datagram(int(at_ms * MS), ("192.0.2.1", 6454), NODE, packet.encode())


@pytest.mark.parametrize("speed", [0.5, 1, 4])
def test_the_same_octets_go_to_where_they_went_each_at_its_moment(speed: float):
    """Also synchronization, and Art-Net's beside E1.31's."""
    sync = Datagram(30 * MS, ("192.0.2.1", 5568), GROUP, SyncPacket(CID, 7, 3).encode())
    shown = [levels(0), art(20, ArtDmx(3, b"\x01\x02", 9)), sync, art(40, ArtSync()), levels(1_000, 2)]
    bench = Bench()
    played = bench.play(*shown, speed=speed)
    for (at_s, octets, to), datagram in zip(bench.sent, shown, strict=False):
        assert at_s == pytest.approx(datagram.stamp_ns / 1e9 / speed)
        assert (octets, to) == (datagram.octets, datagram.destination)
    assert played.packets == len(shown)
    assert played.is_whole
    assert not played.late


def test_polls_replies_lists_of_universes_and_damaged_packets_are_passed_over():
    """A replay speaks for no device, and announces nothing."""
    discovery = Datagram(
        0, ("192.0.2.1", 5568), ("239.255.250.214", 5568), DiscoveryPacket(CID, "L", (1,)).encode()
    )
    damaged = Datagram(0, ("192.0.2.1", 5568), GROUP, levels(0).octets[:100])
    elsewhere = Datagram(0, ("192.0.2.1", 53), ("192.0.2.2", 53), levels(0).octets)
    bench = Bench()
    assert bench.play(discovery, damaged, elsewhere, art(5, ArtPoll(PollFlags(0)))).packets == 0
    assert bench.sent == []


def test_every_stream_ends_dark_and_is_terminated():
    """ANSI E1.31-2018: a change four times (6.6.2), Stream_Terminated three times (6.2.6), in sequence."""
    bench = Bench()
    bench.play(levels(0, 254), levels(25, 255), art(30, ArtDmx(3, b"\x01\x02", 255)))
    last = bench.sent[3:]
    e131_packets = [of_kind(DataPacket, e131.parse(octets)) for _, octets, to in last if to == GROUP]
    assert [packet.sequence for packet in e131_packets] == list(range(7))
    assert all(packet.slots == bytes(6) for packet in e131_packets)
    assert [Options.STREAM_TERMINATED in packet.options for packet in e131_packets] == [False] * 4 + [
        True
    ] * 3
    art_packets = [of_kind(ArtDmx, artnet.parse(octets)) for _, octets, to in last if to == NODE]
    assert [packet.sequence for packet in art_packets] == [1, 2, 3, 4], "Art-Net 4: 1 follows 255"
    assert all(packet.slots == bytes(2) for packet in art_packets)
    moments = sorted({at_s for at_s, *_ in last})
    assert all(later - earlier == pytest.approx(0.025) for earlier, later in pairwise(moments))


def test_a_stream_that_the_capture_ends_itself_is_not_ended_twice():
    """Its three packets with Stream_Terminated are the last."""
    bench = Bench()
    ends = [levels(25 * n, n, options=Options.STREAM_TERMINATED) for n in (2, 3, 4)]
    bench.play(levels(0), *ends)
    assert len(bench.sent) == 4


def test_it_can_be_ended_in_the_middle_of_a_pause_and_ends_dark():
    """Within 50 ms; what was to come is not sent."""
    bench = Bench(ends_at_s=101.0)
    played = bench.play(levels(0), levels(60_000, 2))
    assert not played.is_whole
    assert played.packets == 1
    assert bench.sent[1][0] <= 1.05
    assert of_kind(DataPacket, e131.parse(bench.sent[1][1])).slots == bytes(6)


def test_all_of_it_can_go_to_one_address():
    """With the port that each went to."""
    bench = Bench()
    bench.play(levels(0), art(0, ArtDmx(3, b"\x01\x02", 9)), to="127.0.0.1")
    assert {to for *_, to in bench.sent} == {("127.0.0.1", 5568), ("127.0.0.1", 6454)}


def test_what_comes_too_late_is_counted_and_sent_all_the_same():
    """A slow reader, say: the moments after it stand."""
    bench = Bench()

    def slowly() -> Iterator[Datagram]:
        yield levels(0)
        bench.now_s += 0.3
        yield levels(25, 2)
        yield levels(500, 3)

    *_, played = play(slowly(), bench.edge(), 1.0)
    assert (played.packets, played.late) == (3, 1)
    assert bench.sent[2][0] == pytest.approx(0.5)


def test_a_clock_set_back_within_a_capture_sends_at_once():
    """What was captured after it went on without a wait."""
    bench = Bench()
    bench.play(levels(5_000), levels(1_000, 2))
    assert bench.sent[1][0] == 0
