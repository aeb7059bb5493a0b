"""Whatever the network sends, listening goes on, remembers only so much, and says what it passed over."""

from uuid import UUID

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.cli.heard import events, table
from streamer.cli.levels import watched_lines
from streamer.display.model import Protocol
from streamer.errors import PacketError
from streamer.hear.book import NEWCOMERS_MAX
from streamer.hear.facts import Facts, read
from streamer.hear.messages import SocketHeard, Standing
from streamer.hear.streams import SOURCES_MAX, UNIVERSES_MAX
from streamer.wire.artnet import ArtDmx, ArtPoll, ArtSync, PollFlags
from streamer.wire.e131 import DiscoveryPacket, Options, SyncPacket
from streamer.wire.screening import is_other_artnet, may_be_artnet, may_be_e131
from tests.hear.bench import ADDRESS, A, B, Bench, arrivals, data

GOOD = {
    Protocol.E131: [
        data(1, slots=bytes(512)).encode(),
        data(2, universe=2, options=Options.PREVIEW_DATA).encode(),
        SyncPacket(A, 7).encode(),
        DiscoveryPacket(A, "Boathouse", (1, 2)).encode(),
    ],
    Protocol.ARTNET: [ArtDmx(1, bytes(512), 1).encode(), ArtPoll(PollFlags(0)).encode(), ArtSync().encode()],
}


@st.composite
def damaged(draw: st.DrawFn) -> tuple[Protocol, bytes]:
    """Return a protocol and a good packet of it, cut short, padded and with a few octets changed."""
    protocol = draw(st.sampled_from(Protocol))
    octets = bytearray(draw(st.sampled_from(GOOD[protocol])))
    for _ in range(draw(st.integers(0, 4))):
        octets[draw(st.integers(0, min(len(octets), 140) - 1))] = draw(st.integers(0, 255))
    return protocol, bytes(octets[: draw(st.integers(0, len(octets)))]) + draw(st.binary(max_size=9))


ANYTHING = damaged() | st.tuples(st.sampled_from(Protocol), st.binary(max_size=1500))


@given(st.lists(ANYTHING, min_size=1, max_size=8))
def test_no_datagram_stops_the_listening(cases: list[tuple[Protocol, bytes]]):
    """Anything may come; a good packet is counted afterwards all the same, and all can be told in words."""
    bench = Bench()
    for protocol, payload in cases:
        bench.give(payload, protocol=protocol)
    bench.give(data(0, universe=9), address="10.61.0.9")
    bench.table.watch(Protocol.E131, 9, 2)
    bench.table.close_window(bench.now + 1)
    heard = bench.table.heard([], bench.now)
    assert heard.model_validate_json(heard.model_dump_json()) == heard
    assert sum(bench.table.books[each].datagrams for each in Protocol) == len(cases) + 1
    assert bench.universe(9).sources
    lines = [*table(heard), *events(None, heard), *watched_lines(heard)]
    assert all(line.isprintable() for line in lines)


@given(st.lists(ANYTHING, min_size=1, max_size=8))
def test_nothing_is_screened_out_that_a_parser_would_take(cases: list[tuple[Protocol, bytes]]):
    """What does not pass is what `parse` discards: E1.31 clauses 5 to 8, and Art-Net's ID and lengths."""
    for protocol in Protocol:
        payloads = [payload for own, payload in cases if own is protocol]
        if payloads:
            together = arrivals([(payload, ADDRESS, 0.0) for payload in payloads])
            screen = may_be_e131 if protocol is Protocol.E131 else may_be_artnet
            passed = screen(together.octets, together.lengths)
            if protocol is Protocol.ARTNET:
                passed |= is_other_artnet(together.octets, together.lengths)
            for payload, has_passed in zip(payloads, passed.tolist(), strict=True):
                assert has_passed or not _is_read(protocol, payload)


def _is_read(protocol: Protocol, payload: bytes) -> bool:
    try:
        read(protocol, payload, ADDRESS)
    except PacketError:
        return False
    return True


def test_the_screen_takes_every_good_packet_and_stops_a_wrong_length():
    """The property above would hold of a screen that passes everything."""
    good = list(GOOD[Protocol.E131])
    lying = bytearray(good[0])
    lying[117 - 2] ^= 0x01
    together = arrivals([(payload, ADDRESS, 0.0) for payload in [*good, bytes(lying), b"", good[0][:637]]])
    assert may_be_e131(together.octets, together.lengths).tolist() == [True] * len(good) + [False] * 3


def test_a_header_is_recognised_only_if_every_octet_of_it_is_the_same():
    """One octet of a known packet changed at a time: it counts for the known stream only if it is of it."""
    packet = data(1, slots=bytes(512)).encode()
    bench = Bench()
    bench.give(packet)
    ledger = bench.table.books[Protocol.E131].ledger
    for octet in range(126):
        changed = bytearray(packet)
        changed[octet] ^= 0x01
        before = int(ledger.packets[0] + ledger.out_of_order[0])
        bench.give(bytes(changed))
        is_counted = int(ledger.packets[0] + ledger.out_of_order[0]) > before
        assert is_counted == _is_of_the_stream(bytes(changed))


def _is_of_the_stream(payload: bytes) -> bool:
    try:
        facts = read(Protocol.E131, payload, ADDRESS)
    except PacketError:
        return False
    return isinstance(facts, Facts) and (facts.who.universe, facts.who.cid) == (1, str(A))


def test_a_name_cannot_steer_the_terminal():
    """Escapes, line ends and bidirectional overrides (Unicode UAX 9) do not reach a line."""
    bench = Bench()
    packet = bytearray(data().encode())
    name = "\x1b[2Jgone\n\u202e\u2066".encode()
    packet[44 : 44 + len(name)] = name
    bench.give(bytes(packet))
    heard = bench.table.heard([], bench.now)
    lines = [*table(heard), *events(None, heard)]
    assert all(line.isprintable() for line in lines)
    assert "gone" in "".join(lines)


@pytest.mark.parametrize("priority", [1, 100])
def test_a_flood_of_sources_leaves_a_live_one_alone(priority: int):
    """A thousand CIDs on one universe: so many are remembered, the others counted and told."""
    bench = Bench()
    bench.give(data(0))
    for number in range(1000):
        bench.now += 0.0001
        bench.give(data(0, cid=UUID(int=1000 + number), priority=priority))
    bench.give(data(1))
    sources = {each.cid: each for each in bench.universe().sources}
    assert len(sources) == SOURCES_MAX
    assert sources[str(A)].packets == 2
    assert bench.table.books[Protocol.E131].streams.refused == 1000 - (SOURCES_MAX - 1)


def test_a_higher_priority_finds_room_and_a_lost_source_makes_it():
    """The lowest gives way to a higher one, the longest silent to anybody."""
    bench = Bench()
    for number in range(SOURCES_MAX):
        bench.give(data(0, cid=UUID(int=1000 + number), priority=50 + number))
    bench.give(data(0, cid=A, priority=100))
    assert str(A) in {each.cid for each in bench.universe().sources}
    assert str(UUID(int=1000)) not in {each.cid for each in bench.universe().sources}
    bench.now += 2.5
    bench.give(data(0, cid=B, priority=0))
    assert str(B) in {each.cid for each in bench.universe().sources}
    assert bench.table.books[Protocol.E131].streams.forgotten == 2


def test_a_flood_of_universes_is_remembered_only_so_far():
    """And those that came first stay, as long as they live."""
    bench = Bench()
    packets = [data(0, universe=universe) for universe in range(1, UNIVERSES_MAX + 501)]
    for first in range(0, len(packets), 500):
        bench.now += 0.1
        bench.give(*packets[first : first + 500])
    heard = bench.table.heard([], bench.now)
    assert [each.universe for each in heard.universes] == list(range(1, UNIVERSES_MAX + 1))
    assert bench.table.books[Protocol.E131].streams.refused == 500
    bench.now += 3
    bench.give(data(0, universe=60_000))
    assert 60_000 in {each.universe for each in bench.table.heard([], bench.now).universes}


def test_a_source_that_changes_its_header_with_every_packet_costs_no_memory():
    """Only the last few headers of a stream are kept."""
    bench = Bench()
    for number in range(600):
        bench.give(data(number % 256, priority=number % 200))
    book = bench.table.books[Protocol.E131]
    assert len(book.streams.facts) <= 4
    assert bench.source().packets == 600


def test_a_flood_of_newcomers_is_looked_at_only_so_fast():
    """What is passed over is counted, and known streams are not concerned."""
    bench = Bench()
    bench.give(data(0, universe=1))
    book = bench.table.books[Protocol.E131]
    flood = [
        data(0, cid=UUID(int=10_000 + number), universe=2 + number % 5).encode() for number in range(500)
    ]
    for portion in range(12):
        renamed = [each[:22] + portion.to_bytes(2, "big") + each[24:] for each in flood]
        bench.give(*renamed, data(portion + 1, universe=1).encode())
    assert book.passed_over == 12 * 500 + 1 - NEWCOMERS_MAX
    assert bench.source(1).packets == 13


def test_malformed_datagrams_are_counted_and_the_latest_is_explained():
    """With its sender, the field and the octet."""
    bench = Bench()
    bench.give(data().encode()[:100], b"", np.random.default_rng(1).bytes(600))
    book = bench.table.books[Protocol.E131]
    assert book.malformed == 3
    assert book.last_malformed().startswith(f"from {ADDRESS}: preamble size at octet 0: ")


def test_the_notes_say_what_was_dropped_here_and_what_was_left_out():
    """The kernel's drops are told apart from what the wire lost, with what to do."""
    said = SocketHeard(
        protocol=Protocol.E131,
        port=5568,
        groups=1,
        buffer_octets=212_992,
        datagrams=10,
        dropped=7,
        malformed=1,
        last_malformed="from 10.61.0.2: packet at octet 9",
        other=0,
        strays=0,
        refused=3,
        forgotten=2,
    )
    bench = Bench()
    bench.give(data(cid=A), data(cid=B))
    notes = bench.table.heard([said], bench.now).notes
    assert notes[0].startswith("7 E1.31 datagrams were dropped in this machine, not on the wire")
    assert "net.core.rmem_max" in notes[0]
    assert "3 packets passed over, 2 old sources forgotten" in notes[1]
    assert notes[2] == "1 datagrams on port 5568 are no E1.31, the latest from 10.61.0.2: packet at octet 9."
    assert "send at priority 100" in notes[3]
    assert bench.universe().sources[0].standing is Standing.SHARES
