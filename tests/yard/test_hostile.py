"""Whatever the network sends, the yard goes on, says so, and remembers only so much."""

from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.display.model import Protocol
from streamer.yard.notes import NOTES_MAX
from tests.yard.bench import ART_POLL, RED, Bench, art_dmx, data_packet, jetty, port, sync_packet

GOOD = {
    Protocol.E131: [data_packet(1, bytes(512)), data_packet(1, b"\1"), sync_packet(7)],
    Protocol.ARTNET: [art_dmx(1, bytes(512)), ART_POLL],
}


@st.composite
def damaged(draw: st.DrawFn) -> tuple[Protocol, bytes]:
    """Return a protocol and a good packet of it, cut short, padded and with a few octets changed."""
    protocol = draw(st.sampled_from(Protocol))
    octets = bytearray(draw(st.sampled_from(GOOD[protocol])))
    for _ in range(draw(st.integers(0, 4))):
        octets[draw(st.integers(0, len(octets) - 1))] = draw(st.integers(0, 255))
    return protocol, bytes(octets[: draw(st.integers(0, len(octets)))]) + draw(st.binary(max_size=9))


@given(damaged() | st.tuples(st.sampled_from(Protocol), st.binary(max_size=700)))
def test_no_datagram_stops_the_yard(case: tuple[Protocol, bytes]):
    """Anything may come; what is good is shown afterwards all the same."""
    protocol, payload = case
    bench = Bench(jetty([port(1, 2, 2)], protocol=protocol))
    bench.give(payload, protocol)
    levels = bytes([255, 0, 0] * 2)
    bench.give(data_packet(2, levels) if protocol is Protocol.E131 else art_dmx(2, levels), protocol)
    assert bench.nodes() == [RED, RED]


def test_a_datagram_that_is_dropped_is_told_with_the_reason():
    """The note names the sender, the field and the octet."""
    bench = Bench(jetty([port(1, 2, 1)]))
    bench.yard.take(data_packet(1, b"\1")[:100], Protocol.E131, 0.0, "127.0.0.1")
    assert bench.yard.note(0.0).startswith("A datagram from 127.0.0.1 was dropped: packet at octet 100: ")


def test_a_name_cannot_steer_the_terminal():
    """Control characters and escapes in a source name do not reach the note."""
    bench = Bench(jetty([port(1, 2, 1)]))
    bench.send(9, [1], name="\x1b[2Jgone\n\u202e")
    assert bench.yard.note(bench.now).isprintable()


def test_a_flood_of_universes_is_remembered_only_so_far():
    """The newest is named and the others are counted, up to the bound."""
    bench = Bench(jetty([port(1, 2, 1)]))
    for universe in range(2, 3000):
        bench.yard.take(data_packet(universe, b"\1"), Protocol.E131, 0.0)
    note = bench.yard.note(0.0)
    assert note.startswith("Universe 2999 arrives from 'boathouse'")
    assert note.endswith(f"; {NOTES_MAX - 1} more like this")


@pytest.mark.parametrize("priority", [100, 101])
def test_a_flood_of_sources_is_remembered_only_so_far(priority: int):
    """A thousand sources on one universe leave a bounded number behind, and the highest priority is shown."""
    bench = Bench(jetty([port(1, 2, 1)]))
    bench.give(data_packet(1, bytes([255, 0, 0] * 2), priority=200))
    for number in range(1000):
        bench.give(data_packet(1, b"\0" * 6, cid=UUID(int=number), priority=priority))
    assert bench.nodes() == [RED, RED]
    assert bench.seen().discarded > 900, "the refused ones are counted"
