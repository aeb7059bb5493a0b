"""What a virtual controller acts on, and what it counts: the rules of the two standards."""

import pytest

from streamer.display.model import Controller, Display, Fixture, Protocol, Role
from streamer.yard.faults import WrongUniverse
from streamer.yard.intake import OnLoss
from tests.yard.bench import (
    ART_SYNC,
    BLUE,
    DARK,
    GREEN,
    OTHER_CID,
    PREVIEW,
    RED,
    TERMINATED,
    Bench,
    art_dmx,
    data_packet,
    jetty,
    port,
    sync_packet,
)


def small(**settings: object) -> Bench:
    """Return a bench with one string of two nodes on universe 1."""
    return Bench(jetty([port(1, 2, 1)], **settings))


def art_small() -> Bench:
    """Return the same on Art-Net Port-Address 1."""
    return small(protocol=Protocol.ARTNET)


def counts(bench: Bench) -> tuple[int, int, int]:
    """Return what has come, what is missing, and what was not acted on."""
    seen = bench.seen()
    return seen.packets, seen.lost, seen.discarded


def test_another_start_code_is_no_level():
    """ANSI E1.11 8.5: what a receiver does not know by its START code it must ignore; the count says so."""
    bench = small()
    bench.send(1, [*RED[:3], *RED[:3]])
    bench.send(1, [0, 0, 255, 0, 0, 255], start_code=0xDD)
    assert bench.nodes() == [RED, RED]
    assert counts(bench) == (2, 0, 1)


def test_preview_data_does_not_drive_the_lights():
    """ANSI E1.31-2018 clause 6.2.6, Preview_Data."""
    bench = small()
    bench.send(1, [255, 0, 0] * 2, options=PREVIEW)
    assert bench.nodes() == [DARK, DARK]
    assert counts(bench) == (1, 0, 1)


def test_slots_of_a_terminated_packet_are_ignored_and_the_port_is_no_longer_live():
    """ANSI E1.31-2018 clause 6.2.6, Stream_Terminated: the last look stays, and nobody sends."""
    bench = small()
    bench.send(1, [255, 0, 0] * 2)
    assert bench.seen().is_live
    bench.send(1, [0, 0, 255] * 2, options=TERMINATED)
    assert bench.nodes() == [RED, RED]
    assert not bench.seen().is_live
    assert counts(bench) == (2, 0, 0)


def test_lights_are_dark_at_the_end_only_if_the_sender_made_them_dark():
    """A frame of zeros before the end is what darkens a controller that holds its last look."""
    bench = small()
    bench.send(1, [255, 0, 0] * 2)
    bench.send(1, [0] * 6)
    bench.send(1, [0] * 6, options=TERMINATED)
    assert bench.nodes() == [DARK, DARK]


def test_a_source_is_lost_after_2500_ms():
    """ANSI E1.31-2018 clause 6.7.1 and appendix A, network data loss: 2.5 s; the last look is held."""
    bench = small()
    bench.send(1, [255, 0, 0] * 2)
    heard = bench.now
    bench.yard.expire(heard + 2.49)
    assert bench.seen().is_live
    bench.yard.expire(heard + 2.5)
    assert not bench.seen().is_live
    assert bench.nodes() == [RED, RED]


def test_a_controller_that_goes_dark_on_loss_does_so():
    """The other common choice, for loss and for termination."""
    for ending in ("loss", "termination"):
        bench = Bench(jetty([port(1, 2, 1)]), OnLoss.DARK)
        bench.send(1, [255, 0, 0] * 2)
        assert bench.nodes() == [RED, RED]
        if ending == "loss":
            bench.yard.expire(bench.now + 2.5)
        else:
            bench.send(1, [255, 0, 0] * 2, options=TERMINATED)
        assert bench.nodes() == [DARK, DARK], ending


def test_slots_that_a_short_packet_leaves_out_keep_their_level():
    """Fewer than 512 are legal (ANSI E1.31-2018 clause 7.6); the rest hold (common practice, no source)."""
    bench = small()
    bench.send(1, [255, 0, 0] * 2)
    bench.send(1, [0, 255, 0])
    assert bench.nodes() == [GREEN, RED]


def test_missing_numbers_are_counted_as_lost_and_old_ones_discarded():
    """ANSI E1.31-2018 clause 6.7.2: a step of 0 to -19 is discarded; 7 after 4 leaves two missing."""
    bench = small()
    for sequence, level in [(4, 1), (7, 2), (6, 3), (7, 4)]:
        bench.give(data_packet(1, bytes([level, 0, 0]), sequence))
    assert counts(bench) == (4, 2, 2)
    assert bench.nodes()[0][0] == 2


def test_the_highest_priority_is_shown():
    """ANSI E1.31-2018 clause 6.2.3: only sources of the highest priority count."""
    bench = small()
    bench.send(1, [255, 0, 0] * 2, priority=120)
    bench.send(1, [0, 255, 0] * 2, priority=100, cid=OTHER_CID)
    assert bench.nodes() == [RED, RED]
    bench.send(1, [255, 0, 0] * 2, priority=120, options=TERMINATED)
    assert bench.nodes() == [GREEN, GREEN]


def test_synchronized_levels_wait_for_their_packet():
    """ANSI E1.31-2018 clauses 6.2.4 and 11: held after a first synchronization packet, until the next."""
    bench = small()
    bench.send(1, [255, 0, 0] * 2, sync_address=7000)
    assert bench.nodes() == [RED, RED], "nothing is held before the first synchronization packet"
    bench.give(sync_packet(7000, 1))
    bench.send(1, [0, 255, 0] * 2, sync_address=7000)
    assert bench.nodes() == [RED, RED]
    bench.give(sync_packet(7000, 2))
    assert bench.nodes() == [GREEN, GREEN]
    assert counts(bench) == (2, 0, 0), "levels that waited were acted on"


def test_artdmx_waits_for_artsync_once_one_has_come():
    """Art-Net 4, ArtSync: the first one turns holding on."""
    bench = art_small()
    bench.give(art_dmx(1, bytes([255, 0, 0] * 2), 1), Protocol.ARTNET)
    assert bench.nodes() == [RED, RED]
    bench.give(ART_SYNC, Protocol.ARTNET)
    bench.give(art_dmx(1, bytes([0, 0, 255] * 2), 2), Protocol.ARTNET)
    assert bench.nodes() == [RED, RED]
    bench.give(ART_SYNC, Protocol.ARTNET)
    assert bench.nodes() == [BLUE, BLUE]


def test_an_artnet_source_is_gone_after_10_s_and_its_levels_stay():
    """Art-Net 4, merging: a source counts for 10 s after its last ArtDmx; then the last result is held."""
    bench = art_small()
    bench.give(art_dmx(1, bytes([255, 0, 0] * 2)), Protocol.ARTNET)
    bench.yard.expire(bench.now + 9.9)
    assert bench.seen().is_live
    bench.yard.expire(bench.now + 10.0)
    assert not bench.seen().is_live
    assert bench.nodes() == [RED, RED]


def test_artdmx_without_numbers_is_taken_as_it_comes():
    """Art-Net 4, ArtDmx Sequence: 0 turns ordering off; 1 follows 255."""
    bench = art_small()
    for sequence in (0, 0, 255, 1, 255):
        bench.give(art_dmx(1, bytes([sequence, 0]), sequence), Protocol.ARTNET)
    assert counts(bench) == (5, 0, 1)


def test_a_universe_that_belongs_to_nobody_is_named_with_its_source():
    """Nothing is lost silently; five seconds after the last packet the note goes."""
    bench = small()
    bench.send(9, [1], name="slipway")
    bench.send(9, [1], name="slipway")
    words = "Universe 9 arrives from 'slipway' but no port listens to it (2 packets)"
    assert bench.yard.note(bench.now) == words
    assert bench.yard.note(bench.now + 4.9) == words
    assert bench.yard.note(bench.now + 5.0) == ""


def test_a_universe_that_a_fault_has_left_belongs_to_nobody():
    """A port that is set to universe 2 leaves universe 1 without a listener."""
    bench = small()
    bench.set_faults(1, WrongUniverse(by=1))
    bench.send(1, [1])
    assert "Universe 1 arrives" in bench.yard.note(bench.now)
    bench.set_faults(1)
    bench.send(1, [7, 0, 0])
    assert bench.nodes()[0][0] == 7


def test_controllers_at_different_addresses_do_not_hear_each_other():
    """The same universe at two addresses is two streams; at a third it is nobody's."""
    display = Display(
        name="boathouse",
        controllers=tuple(
            Controller(name=name, protocol=Protocol.E131, address=address, ports=(port(n, 1, 1),))
            for n, (name, address) in enumerate([("east", "127.0.0.2"), ("west", "192.168.7.20")], start=1)
        ),
    )
    bench = Bench(display)
    for level, destination in [(1, "127.0.0.2"), (2, "127.0.0.1"), (3, "127.0.0.9")]:
        bench.yard.take(data_packet(1, bytes([level])), Protocol.E131, 0.0, "127.0.0.1", destination)
    assert [bench.nodes(n)[0][0] for n in (1, 2)] == [1, 2], "an address elsewhere stands at 127.0.0.1"
    assert bench.yard.note(0.0).endswith("but no port listens to it at 127.0.0.9")


@pytest.mark.parametrize(
    ("addresses", "destination", "shown"),
    [
        (["127.0.0.1", "multicast"], "239.255.0.1", [0, 9]),
        (["127.0.0.1", "multicast"], "127.0.0.1", [9, 0]),
        (["127.0.0.2", "multicast"], "127.0.0.1", [0, 9]),
        (["127.0.0.2", "multicast"], "127.0.0.2", [9, 0]),
        (["127.0.0.2", "multicast"], None, [9, 9]),
        (["multicast", "multicast6"], "ff18::8300:1", [0, 9]),
        (["multicast", "multicast6"], "239.255.0.1", [9, 0]),
        (["multicast", "multicast6"], "::1", [0, 9]),
        (["fd00:7::20", "multicast6"], "::1", [9, 0]),
        (["127.0.0.1", "fe80::20%eth0"], "::1", [0, 9]),
    ],
)
def test_groups_reach_those_who_joined_and_single_addresses_their_owners(
    addresses: list[str], destination: str | None, shown: list[int]
):
    """Who joined groups also hears 127.0.0.1, unless that is another controller's own (clause 9)."""
    controllers = tuple(
        Controller(name=f"shed {n}", protocol=Protocol.E131, address=address, ports=(port(n, 1, 1),))
        for n, address in enumerate(addresses, start=1)
    )
    bench = Bench(Display(name="boathouse", controllers=controllers))
    bench.yard.take(data_packet(1, b"\x09"), Protocol.E131, 0.0, "127.0.0.1", destination)
    assert [bench.nodes(n)[0][0] for n in (1, 2)] == shown


def test_a_fixture_shows_its_channels():
    """Fixtures read their slots straight from their universe, in the plan's order."""
    flood = Fixture(name="flood", universe=3, slot=5, channels=(Role.DIMMER, Role.RED))
    bench = small(fixtures=(flood,))
    bench.send(3, [0, 0, 0, 0, 77, 88, 99])
    assert bench.yard.seen().channels.tolist() == [77, 88]


def test_groups_follow_what_the_ports_are_set_to():
    """ANSI E1.31-2018 table 9-10: universe 300 is 239.255.1.44, 301 is 239.255.1.45, 1 is 239.255.0.1."""
    bench = Bench(jetty([port(1, 2, 300)], address="multicast", sync_address=1))
    assert bench.yard.groups() == {"239.255.1.44", "239.255.0.1"}
    bench.set_faults(1, WrongUniverse(by=1))
    assert bench.yard.groups() == {"239.255.1.45", "239.255.0.1"}
    assert small().yard.groups() == frozenset()


def test_groups_of_ipv6_follow_too():
    """ANSI E1.31-2018 tables 9-11 and 9-12: FF 18, ten zeros, 83 00, and the universe in two octets."""
    bench = Bench(jetty([port(1, 2, 300)], address="multicast6", sync_address=1))
    assert bench.yard.groups() == {"ff18::8300:12c", "ff18::8300:1"}
    bench.set_faults(1, WrongUniverse(by=1))
    assert bench.yard.groups() == {"ff18::8300:12d", "ff18::8300:1"}
