"""What an E1.31 receiver makes of packets. Source: ANSI E1.31-2018, clauses beside each promise."""

from dataclasses import replace
from uuid import UUID

import pytest

from streamer.wire.e131 import NO_OPTIONS, DataPacket, Options, SyncPacket
from streamer.wire.reception import UNIVERSES_MAX, Lost, Reception, Verdict
from streamer.wire.sources import SOURCES_MAX

A, B = UUID(int=1), UUID(int=2)
SYNC_ADDRESS = 7001


def data(
    sequence: int = 0, slots: bytes = b"\x01\x02\x03", cid: UUID = A, universe: int = 1, priority: int = 100
) -> DataPacket:
    """Make a packet of levels."""
    return DataPacket(cid, "Boathouse", universe, slots, sequence, priority)


def preview(packet: DataPacket) -> DataPacket:
    """Mark a packet as a preview."""
    return replace(packet, options=packet.options | Options.PREVIEW_DATA)


def terminated(packet: DataPacket) -> DataPacket:
    """Mark a packet as its stream's end."""
    return replace(packet, options=packet.options | Options.STREAM_TERMINATED)


def synced(packet: DataPacket, options: Options = NO_OPTIONS) -> DataPacket:
    """Let a packet wait for synchronization."""
    return replace(packet, sync_address=SYNC_ADDRESS, options=options)


def test_levels_are_what_was_received():
    """A universe that nobody sends has no levels; then it has the packet's."""
    reception = Reception()
    assert reception.levels(1) is None
    assert reception.receive(data(), now=0.0) is Verdict.ACCEPTED
    assert reception.levels(1) == b"\x01\x02\x03"
    assert reception.levels(2) is None
    assert reception.universes() == (1,)


def test_an_old_packet_is_discarded_and_counted():
    """6.7.2: a step of -19 is old, one of -20 is a source that started again."""
    reception = Reception()
    reception.receive(data(100), now=0.0)
    assert reception.receive(data(81, b"\xff"), now=0.1) is Verdict.OUT_OF_ORDER
    assert reception.levels(1) == b"\x01\x02\x03"
    assert reception.receive(data(80, b"\xee"), now=0.2) is Verdict.ACCEPTED
    assert reception.levels(1) == b"\xee"
    counters = reception.counters(1)
    assert (counters.received, counters.lost, counters.out_of_order) == (2, 0, 1)


def test_missing_packets_are_counted():
    """6.2.5: from 254 to 1 the numbers 255 and 0 are missing."""
    reception = Reception()
    reception.receive(data(254), now=0.0)
    reception.receive(data(1), now=0.1)
    assert reception.counters(1).lost == 2
    assert reception.sources(1)[0].counters.lost == 2


def test_sources_and_universes_are_counted_apart():
    """6.2.5: one counter for each universe; the CID tells sources apart (5.6)."""
    reception = Reception()
    verdicts = [
        reception.receive(data(10), now=0.0),
        reception.receive(data(5, cid=B), now=0.0),
        reception.receive(data(3, universe=2), now=0.0),
        reception.receive(data(11), now=0.1),
        reception.receive(data(6, cid=B), now=0.1),
        reception.receive(data(4, universe=2), now=0.1),
    ]
    assert set(verdicts) == {Verdict.ACCEPTED}
    assert reception.counters(1).lost == reception.counters(2).lost == 0


def test_a_source_is_lost_after_2_5_seconds():
    """6.7.1: by source and universe; then its levels no longer count."""
    reception = Reception()
    reception.receive(data(), now=10.0)
    assert reception.expire(now=12.49) == []
    assert reception.levels(1) is not None
    assert reception.expire(now=12.5) == [Lost(1, A, "Boathouse")]
    assert reception.levels(1) is None
    assert reception.expire(now=20.0) == []


def test_a_source_that_was_lost_may_come_back_with_any_number():
    """6.7.2: the number before the loss is forgotten, and the loss told once, also if nobody looked."""
    reception = Reception()
    reception.receive(data(100), now=0.0)
    assert reception.receive(data(99), now=3.0) is Verdict.ACCEPTED
    assert reception.expire(now=3.0) == [Lost(1, A, "Boathouse")]
    assert reception.levels(1) is not None


def test_termination_ends_a_source_at_once_and_its_slots_are_ignored():
    """6.2.6: without waiting for 2.5 s; the two further packets change nothing."""
    reception = Reception()
    reception.receive(data(0), now=0.0)
    for sequence in (1, 2, 3):
        packet = terminated(data(sequence, b"\xff\xff\xff"))
        assert reception.receive(packet, now=0.1) is Verdict.TERMINATED
        assert reception.levels(1) is None
        assert reception.sources(1) == ()
    assert reception.expire(now=9.0) == []
    assert reception.receive(data(0), now=9.0) is Verdict.ACCEPTED


def test_an_old_termination_is_discarded():
    """6.7.2 holds for every data packet."""
    reception = Reception()
    reception.receive(data(100), now=0.0)
    assert reception.receive(terminated(data(100)), now=0.0) is Verdict.OUT_OF_ORDER
    assert reception.levels(1) is not None


def test_a_preview_does_not_drive_live_output():
    """6.2.6: it is counted in the sequence, but is not shown; a source in preview has no live levels."""
    reception = Reception()
    assert reception.receive(preview(data(0)), now=0.0) is Verdict.PREVIEW
    assert reception.levels(1) is None
    reception.receive(data(1, b"\x09"), now=0.1)
    assert reception.levels(1) == b"\x09"
    reception.receive(preview(data(2)), now=0.2)
    assert reception.levels(1) is None
    assert reception.counters(1).received == 3


def test_a_preview_of_high_priority_does_not_silence_live_levels():
    """6.2.3: only live sources compete."""
    reception = Reception()
    reception.receive(data(0, b"\x05"), now=0.0)
    reception.receive(preview(data(0, b"\xff", cid=B, priority=200)), now=0.0)
    assert reception.levels(1) == b"\x05"


def test_another_start_code_is_not_levels_but_counts_in_the_sequence():
    """ANSI E1.11: only START code 0 carries levels; 6.2.5: all packets of a universe share a counter."""
    reception = Reception()
    reception.receive(data(0), now=0.0)
    other = replace(data(1, b"\x64" * 3), start_code=0xDD)
    assert reception.receive(other, now=2.0) is Verdict.NOT_LEVELS
    assert reception.levels(1) == b"\x01\x02\x03"
    assert reception.receive(data(2), now=2.1) is Verdict.ACCEPTED
    assert reception.counters(1).lost == 0


def test_the_highest_priority_wins_whichever_came_first():
    """6.2.3."""
    for order in ((A, B), (B, A)):
        reception = Reception()
        for cid in order:
            reception.receive(data(0, bytes([cid.int]), cid, priority=100 + cid.int), now=0.0)
        assert reception.levels(1) == bytes([B.int])


def test_the_next_priority_takes_over_when_the_highest_ends():
    """6.2.3, 6.2.6, 6.7.1: at once on termination or a step down, after 2.5 s on silence."""
    reception = Reception()
    high, low = data(0, b"\xff", B, priority=150), data(0, b"\x05")
    reception.receive(low, now=0.0)
    reception.receive(high, now=0.0)
    assert reception.levels(1) == b"\xff"
    reception.receive(replace(high, sequence=1, priority=50), now=0.1)
    assert reception.levels(1) == b"\x05"
    reception.receive(replace(high, sequence=2), now=0.2)
    reception.receive(terminated(replace(high, sequence=3)), now=0.3)
    assert reception.levels(1) == b"\x05"
    reception.receive(high, now=1.0)
    reception.receive(replace(low, sequence=1), now=2.0)
    reception.expire(now=3.6)
    assert reception.levels(1) == b"\x05"


def test_equal_priorities_show_the_highest_value_of_each_slot():
    """6.2.3 leaves it to the receiver: ours is the highest value, also where one packet is shorter."""
    reception = Reception()
    reception.receive(data(0, b"\x00\x80\x10\x07"), now=0.0)
    reception.receive(data(0, b"\x40\x20", cid=B), now=0.0)
    assert reception.levels(1) == b"\x40\x80\x10\x07"


def test_a_short_packet_shortens_the_levels():
    """A packet is a whole frame: slots that are no longer sent are no longer there."""
    reception = Reception()
    reception.receive(data(0, b"\x01\x02\x03"), now=0.0)
    reception.receive(data(1, b"\x09"), now=0.0)
    assert reception.levels(1) == b"\x09"


def test_nothing_is_held_before_the_first_synchronization_packet():
    """6.2.4: holding begins with it."""
    reception = Reception()
    assert reception.receive(synced(data(0, b"\x01")), now=0.0) is Verdict.ACCEPTED
    assert reception.levels(1) == b"\x01"


def test_levels_wait_for_their_synchronization_packet():
    """6.2.4, 11: the newest packet of each universe is shown when the packet for its address comes."""
    reception = Reception()
    for universe in (1, 2):
        reception.receive(synced(data(0, b"\x01", universe=universe)), now=0.0)
    reception.synchronize(SyncPacket(A, SYNC_ADDRESS, 0), now=0.0)
    for sequence, slots in ((1, b"\x02"), (2, b"\x03")):
        for universe in (1, 2):
            packet = synced(data(sequence, slots, universe=universe))
            assert reception.receive(packet, now=0.1) is Verdict.HELD
    reception.synchronize(SyncPacket(A, SYNC_ADDRESS + 1, 1), now=0.2)
    assert (reception.levels(1), reception.levels(2)) == (b"\x01", b"\x01")
    assert reception.synchronize(SyncPacket(A, SYNC_ADDRESS, 1), now=0.2) is Verdict.ACCEPTED
    assert (reception.levels(1), reception.levels(2)) == (b"\x03", b"\x03")


def test_an_old_synchronization_packet_releases_nothing():
    """6.3.2 and 6.7.2: synchronization packets have their own counter."""
    reception = Reception()
    reception.synchronize(SyncPacket(A, SYNC_ADDRESS, 9), now=0.0)
    reception.receive(synced(data(0)), now=0.1)
    assert reception.synchronize(SyncPacket(A, SYNC_ADDRESS, 9), now=0.1) is Verdict.OUT_OF_ORDER
    assert reception.levels(1) is None
    assert reception.synchronize(SyncPacket(A, SYNC_ADDRESS, 10), now=0.2) is Verdict.ACCEPTED
    assert reception.levels(1) == b"\x01\x02\x03"


def test_levels_without_an_address_are_shown_at_once_and_drop_what_was_held():
    """6.2.4: address 0."""
    reception = Reception()
    reception.synchronize(SyncPacket(A, SYNC_ADDRESS, 0), now=0.0)
    reception.receive(synced(data(0, b"\x01")), now=0.0)
    assert reception.receive(data(1, b"\x02"), now=0.0) is Verdict.ACCEPTED
    reception.synchronize(SyncPacket(A, SYNC_ADDRESS, 1), now=0.1)
    assert reception.levels(1) == b"\x02"


@pytest.mark.parametrize(
    ("options", "verdict", "levels"),
    [(Options(0), Verdict.HELD, b"\x01"), (Options.FORCE_SYNCHRONIZATION, Verdict.ACCEPTED, b"\x02")],
)
def test_when_synchronization_is_lost_the_flag_decides(options: Options, verdict: Verdict, levels: bytes):
    """6.2.6: Force_Synchronization 0 keeps the last look until it resumes, 1 goes on without."""
    reception = Reception()
    reception.receive(synced(data(0, b"\x01"), options), now=0.0)
    reception.synchronize(SyncPacket(A, SYNC_ADDRESS, 0), now=0.0)
    assert reception.receive(synced(data(1, b"\x05"), options), now=2.4) is Verdict.HELD
    assert reception.receive(synced(data(2, b"\x02"), options), now=2.5) is verdict
    assert reception.levels(1) == levels
    assert reception.synchronize(SyncPacket(A, SYNC_ADDRESS, 0), now=2.6) is Verdict.ACCEPTED
    assert reception.levels(1) == b"\x02"


def test_one_more_source_than_there_is_room_for_is_refused():
    """A hostile network cannot fill the memory with sources."""
    reception = Reception()
    for number in range(SOURCES_MAX):
        assert reception.receive(data(cid=UUID(int=number)), now=0.0) is Verdict.ACCEPTED
    assert reception.receive(data(cid=UUID(int=99)), now=0.0) is Verdict.REFUSED
    assert len(reception.sources(1)) == SOURCES_MAX
    assert reception.receive(data(cid=UUID(int=0), sequence=1), now=0.0) is Verdict.ACCEPTED


def test_a_source_of_higher_priority_finds_room():
    """6.2.3: the first to come have no right to stay; the lowest priority gives way."""
    reception = Reception()
    for number in range(SOURCES_MAX):
        reception.receive(data(cid=UUID(int=number), priority=100 - number), now=0.0)
    assert reception.receive(data(0, b"\xff", UUID(int=99), priority=150), now=0.0) is Verdict.ACCEPTED
    assert reception.levels(1) == b"\xff"
    assert UUID(int=SOURCES_MAX - 1) not in {source.packet.cid for source in reception.sources(1)}


def test_one_more_universe_than_there_is_room_for_is_refused_until_one_falls_silent():
    """A hostile network cannot fill the memory with universes, nor keep ours out for ever."""
    reception = Reception()
    for universe in range(1, UNIVERSES_MAX + 1):
        reception.receive(data(universe=universe), now=0.0)
    assert reception.receive(data(universe=63999), now=0.0) is Verdict.REFUSED
    assert len(reception.expire(now=2.5)) == UNIVERSES_MAX
    assert reception.receive(data(universe=63999), now=2.5) is Verdict.ACCEPTED
    assert reception.universes() == (63999,)


def test_ending_streams_of_unknown_sources_leave_no_trace():
    """Termination of what was never heard is not remembered."""
    reception = Reception()
    assert reception.receive(terminated(data()), now=0.0) is Verdict.TERMINATED
    assert reception.universes() == ()


def test_many_synchronization_addresses_push_out_the_one_that_is_silent_longest():
    """A hostile network cannot fill the memory with addresses."""
    reception = Reception()
    for address in range(1, 2001):
        assert reception.synchronize(SyncPacket(A, address), now=float(address)) is Verdict.ACCEPTED
    recent = replace(data(), sync_address=2000)
    forgotten = replace(data(universe=2), sync_address=1)
    assert reception.receive(recent, now=2000.0) is Verdict.HELD
    assert reception.receive(forgotten, now=2000.0) is Verdict.ACCEPTED
