"""What is told of a universe's sources. Source: ANSI E1.31-2018, clauses beside each promise; Art-Net 4."""

from typing import Any

import pytest

from streamer.display.model import Protocol
from streamer.hear.messages import Life, Standing
from streamer.wire.artnet import ArtDmx
from streamer.wire.e131 import Options, SyncPacket, discovery_pages
from tests.hear.bench import ADDRESS, GROUP, A, B, Bench, C, data, terminated


def test_a_source_is_told_with_all_that_it_says_of_itself():
    """Tables 5-4, 6-5 and 7-8: name, CID, priority, synchronization address, slots; and where it sends."""
    bench = Bench()
    bench.give(data(priority=150, sync_address=7001, slots=bytes(510)))
    source = bench.source()
    assert (source.name, source.cid, source.address, source.sent_to) == ("Boathouse", str(A), ADDRESS, GROUP)
    assert (source.priority, source.sync_address, source.slots) == (150, 7001, 510)
    assert (source.start_codes, source.preview, source.life) == ((0,), False, Life.LIVE)
    assert source.standing is Standing.WINS


def test_levels_are_those_of_the_newest_packet_as_many_as_it_has():
    """A shorter packet leaves nothing of a longer one behind."""
    bench = Bench()
    bench.give(data(0, slots=bytes([9] * 512)))
    bench.give(data(1, slots=b"\5\6"))
    assert bench.table.levels(Protocol.E131, 1, bench.now) == b"\5\6"


def test_missing_and_old_packets_are_counted():
    """6.2.5 and 6.7.2: 254 to 1 misses two; -19 is old; -20 is a source that began again."""
    bench = Bench()
    for number in (254, 1, 238, 237):
        bench.give(data(number))
    source = bench.source()
    assert (source.packets, source.lost, source.out_of_order) == (3, 2, 1)


def test_of_what_is_lost_no_more_is_put_down_to_this_machine_than_it_dropped():
    """6.7.2 for what is lost; what was dropped is the kernel's count between the same two packets."""
    bench = Bench()
    bench.give(data(0), data(3))
    assert (bench.source().lost, bench.source().lost_here) == (2, 0)
    bench.dropped = 1
    bench.give(data(6))
    assert (bench.source().lost, bench.source().lost_here) == (4, 1)
    bench.dropped = 9
    bench.give(data(9), data(12))
    assert (bench.source().lost, bench.source().lost_here) == (8, 3)
    bench.dropped = 12
    bench.give(data(11))
    bench.give(data(15), data(15, cid=B))
    source, other = bench.universe().sources
    assert (source.lost, source.lost_here, source.out_of_order) == (9, 5, 1)
    assert (other.lost, other.lost_here) == (0, 0)


def test_an_old_packet_in_the_midst_of_others_is_the_only_one_discarded():
    """6.7.2, however many were read at once: 3 is older than 5, and 6 follows 5."""
    bench = Bench()
    bench.give(*(data(number, slots=bytes([number])) for number in (4, 5, 3, 6, 8)))
    source = bench.source()
    assert (source.packets, source.lost, source.out_of_order) == (4, 1, 1)
    assert bench.table.levels(Protocol.E131, 1, bench.now) == b"\x08"


def test_a_source_is_timed_out_after_two_and_a_half_seconds_and_welcome_after_it():
    """6.7.1; whatever number it comes back with is accepted, and nothing is said to be lost."""
    bench = Bench()
    bench.give(data(100))
    bench.now += 2.49
    assert bench.source().life is Life.LIVE
    bench.now += 0.01
    assert bench.source().life is Life.TIMED_OUT
    assert bench.source().standing is Standing.NONE
    bench.give(data(95))
    source = bench.source()
    assert (source.life, source.packets, source.lost, source.out_of_order) == (Life.LIVE, 2, 0, 0)


def test_a_terminated_source_is_told_at_once_and_its_last_levels_do_not_count():
    """6.2.6: one packet with Stream_Terminated is enough, and its slots are ignored."""
    bench = Bench()
    bench.give(data(0), *(terminated(data(number, slots=b"\7\7\7")) for number in (1, 2, 3)))
    assert bench.source().life is Life.TERMINATED
    assert bench.source().packets == 4
    assert bench.table.levels(Protocol.E131, 1, bench.now) == b""
    bench.give(data(0, slots=b"\4"))
    assert bench.source().life is Life.LIVE
    assert bench.table.levels(Protocol.E131, 1, bench.now) == b"\4"


def test_the_highest_priority_wins_and_is_told_first():
    """6.2.3."""
    bench = Bench()
    bench.give(data(cid=A), data(cid=B, priority=120), data(cid=C, priority=99))
    sources = bench.universe().sources
    assert [(each.cid, each.standing) for each in sources] == [
        (str(B), Standing.WINS),
        (str(A), Standing.OUTRANKED),
        (str(C), Standing.OUTRANKED),
    ]


def test_a_tie_is_shared_and_the_highest_of_each_slot_is_shown():
    """6.2.3: what becomes of several sources of one priority is the receiver's choice."""
    bench = Bench()
    bench.give(data(cid=A, slots=b"\1\x09"), data(cid=B, slots=b"\5\2\3"), data(cid=C, priority=1))
    standing = [each.standing for each in bench.universe().sources]
    assert standing == [Standing.SHARES, Standing.SHARES, Standing.OUTRANKED]
    assert bench.table.levels(Protocol.E131, 1, bench.now) == b"\5\x09\3"


def test_when_the_winner_goes_the_next_one_wins():
    """6.2.3 with 6.7.1: a lost source has no priority; a terminated one neither."""
    bench = Bench()
    bench.give(data(0, cid=A), data(0, cid=B, priority=120))
    bench.give(terminated(data(1, cid=B, priority=120)))
    assert [each.standing for each in bench.universe().sources] == [Standing.WINS, Standing.NONE]


@pytest.mark.parametrize("more", [{"options": Options.PREVIEW_DATA}, {"start_code": 0xDD}])
def test_previews_and_other_start_codes_win_nothing(more: dict[str, Any]):
    """6.2.6: a preview must not drive live output; ANSI E1.11: only START code 0 means levels."""
    bench = Bench()
    bench.give(data(cid=A, priority=200, **more), data(cid=B, priority=1))
    assert [(each.cid, each.standing) for each in bench.universe().sources] == [
        (str(B), Standing.WINS),
        (str(A), Standing.NONE),
    ]


def test_levels_between_packets_of_another_start_code_stay_levels():
    """Both are packets of one stream with one sequence (6.2.5), and both codes are told."""
    bench = Bench()
    for number in range(0, 20, 2):
        bench.give(data(number, start_code=0xDD, slots=b"\x64"), data(number + 1, slots=b"\1\2\3"))
    source = bench.source()
    assert (source.packets, source.lost, source.slots, source.start_codes) == (20, 0, 3, (0, 0xDD))
    assert bench.table.levels(Protocol.E131, 1, bench.now) == b"\1\2\3"


def test_a_change_of_priority_is_told_and_a_change_back_too():
    """A header that was known before is known again."""
    bench = Bench()
    told = []
    for number, priority in enumerate((100, 150, 100, 150)):
        bench.give(data(number, priority=priority))
        told.append(bench.source().priority)
    assert told == [100, 150, 100, 150]
    assert bench.source().packets == 4


def test_one_cid_from_two_addresses_is_told_as_two():
    """5.6: a CID is one component's alone, so this is a fault that must be seen."""
    bench = Bench()
    bench.give(data(0), address="10.61.0.2")
    bench.give(data(0), address="10.61.0.3")
    assert sorted(each.address for each in bench.universe().sources) == ["10.61.0.2", "10.61.0.3"]


def test_rate_and_jitter_are_those_of_the_last_second():
    """Forty packets, every other one 10 ms late: intervals of 15 and 35 ms deviate by 10 ms."""
    bench = Bench()
    for number in range(40):
        bench.now = 1000 + number * 0.025 + number % 2 * 0.010
        bench.give(data(number))
    bench.now = 1001.0
    bench.table.close_window(bench.now)
    source = bench.source()
    assert source.fps == pytest.approx(40)
    assert source.jitter_ms == pytest.approx(10, rel=0.01)
    assert source.gap_ms == pytest.approx(35, rel=0.01)
    bench.now = 1002.0
    bench.table.close_window(bench.now)
    assert bench.source().fps == 0
    assert bench.source().jitter_ms is None


def test_a_universe_that_was_asked_for_is_told_even_when_it_is_silent():
    """And one that comes unasked is told as such."""
    bench = Bench(e131=(1, 2))
    bench.give(data(universe=2), data(universe=3))
    told = {
        each.universe: (each.is_asked, len(each.sources)) for each in bench.table.heard([], 0.0).universes
    }
    assert told == {1: (True, 0), 2: (True, 1), 3: (False, 1)}


def test_synchronization_that_does_not_come_is_told():
    """11: after 2.5 s without a synchronization packet for its address it is lost."""
    bench = Bench()
    bench.give(data(sync_address=7001))
    assert not bench.source().is_synchronized
    bench.give(SyncPacket(A, 7001))
    assert bench.source().is_synchronized
    bench.now += 2.5
    assert not bench.source().is_synchronized


def test_pages_of_universe_discovery_are_joined():
    """8.3 to 8.5: 600 universes are two pages; a list that is not repeated for 30 s has ended (12.2)."""
    bench = Bench()
    for page in discovery_pages(A, "Boathouse", range(1, 601)):
        bench.give(page)
    (announced,) = bench.table.heard([], bench.now).announced
    assert announced.universes == tuple(range(1, 601))
    assert bench.table.announced(bench.now) == frozenset(range(1, 601))
    bench.give(*discovery_pages(A, "Boathouse", [7]))
    assert bench.table.announced(bench.now) == {7}
    bench.now += 30
    assert not bench.table.heard([], bench.now).announced


def test_two_sources_of_a_port_address_share_it():
    """Art-Net 4: another IP address, or another Physical, is another source; there is no priority."""
    bench = Bench()
    bench.give(ArtDmx(19, bytes(4), 1, physical=0), ArtDmx(19, bytes(4), 1, physical=1))
    universe = bench.universe(19, Protocol.ARTNET)
    assert universe.text == "Port-Address 19 (0:1:3)"
    assert [(each.physical, each.priority, each.standing) for each in universe.sources] == [
        (0, None, Standing.SHARES),
        (1, None, Standing.SHARES),
    ]


def test_artdmx_is_counted_on_its_own_cycle_and_not_where_it_is_not_numbered():
    """Art-Net 4, ArtDmx: after 255 comes 1; 0 is not numbered. Late is not lost: RFC 3550 clause 6.4.1."""
    bench = Bench()
    for number in (254, 255, 1, 3, 2, 0, 0, 200):
        bench.give(ArtDmx(19, bytes(4), number))
    source = bench.source(19, Protocol.ARTNET)
    assert (source.packets, source.lost, source.out_of_order) == (7, 0, 1)


def test_the_history_of_a_slot_is_kept_packet_by_packet():
    """From the moment that its source is known."""
    bench = Bench()
    bench.table.watch(Protocol.E131, 1, 2)
    bench.give(data(0))
    bench.table.close_window(bench.now)
    for number in range(1, 6):
        bench.now += 0.025
        bench.give(data(number, slots=bytes([0, number * 10, 0])), data(number, universe=2))
    watched = bench.table.heard([], bench.now).watched
    assert watched is not None
    assert [level for _, level in watched.history] == [10, 20, 30, 40, 50]
    assert watched.levels == (0, 50, 0)
    assert watched.history[-1][0] == pytest.approx(0.125)


def test_one_source_by_both_ip_versions_does_not_share_with_itself():
    """E1.31-2018 5.6: the CID is the source. At two addresses of one version it is a fault, and is told."""
    bench = Bench()
    bench.give(data(cid=A))
    bench.give(data(cid=A), address="fd61::2")
    assert [each.standing for each in bench.universe().sources] == ["wins", "wins"]
    bench.give(data(1, cid=A), address="fd61::3")
    assert [each.standing for each in bench.universe().sources] == ["shares"] * 3
