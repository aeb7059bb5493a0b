"""Where strings and fixtures lie, against tables worked out from the standards' own numbers."""

import ipaddress

import pytest

from streamer.display.model import Addressing, Protocol
from streamer.plan.addresses import (
    extent_of_fixture,
    extent_of_string,
    free_between,
    slot_address,
    universes_of,
)
from streamer.wire import e131
from tests.plan.lake import controller, display, flood, port

STARTS = [(1, 1), (1, 301), (2, 89), (2, 389), (3, 177), (3, 477), (4, 265), (5, 53), (5, 353), (6, 141)]
STARTS += [(6, 441), (7, 229), (8, 17), (8, 317)]
"""Fourteen strings of 100 RGB nodes packed one behind the other: divmod(300 * (k - 1), 512), each plus 1."""
SPLIT = {2: 71, 4: 42, 7: 83, 9: 54, 12: 95, 14: 66}
"""The node of a string (both from 1) that is split between two universes: of the first 1,400 those whose
first slot is the 511th or 512th of a universe (512 slots: ANSI E1.11)."""


def test_fourteen_packed_strings_begin_and_split_where_the_table_says():
    """4,200 channels in 8.2 universes; six nodes are split, none at the ends of universes 3 and 6."""
    ports = [port(number, universe, slot) for number, (universe, slot) in enumerate(STARTS, 1)]
    jetty = controller(*ports, addressing=Addressing.PACKED)
    extents = [extent_of_string(jetty, each) for each in ports]
    assert [(each.first.universe, each.first.slot) for each in extents] == STARTS
    assert [each.first.channel for each in extents] == [300 * k + 1 for k in range(14)]
    assert [each.last.channel for each in extents] == [300 * k + 300 for k in range(14)]
    assert (extents[-1].last.universe, extents[-1].last.slot) == (9, 104)
    assert {
        number: each.split_nodes for number, each in enumerate(extents, 1) if each.split_nodes
    } == dict.fromkeys(SPLIT, 1)
    universes = universes_of(display(jetty))
    assert [each.universe for each in universes] == list(range(1, 10))
    assert [each.slots_left for each in universes] == [0] * 8 + [512 - 104]
    assert universes[-1].next_slot == 105


def test_whole_nodes_leave_two_slots_of_a_universe_and_go_on_in_the_next():
    """170 RGB nodes a universe: node 171 is (2, 1-3), node 1,280 is (8, 268-270)."""
    string = port(1, 1, nodes=1280)
    jetty = controller(string)
    extent = extent_of_string(jetty, string)
    assert (extent.last.universe, extent.last.slot) == (8, 270)
    assert extent.universes == tuple(range(1, 9))
    assert extent.split_nodes == 0
    first, *_, last = universes_of(display(jetty))
    assert (first.slots_used, first.slots_left, first.next_slot) == (510, 2, 511)
    assert (last.slots_used, last.next_slot) == (270, 271)


def test_skipped_nodes_come_before_the_string_and_are_counted_as_used():
    """Two spare RGB nodes take six slots; the string's own begin at the seventh."""
    string = port(1, 1, nodes=10, skip=2)
    extent = extent_of_string(controller(string), string)
    assert (extent.first.slot, extent.last.slot) == (7, 36)
    assert universes_of(display(controller(string)))[0].slots_used == 36


@pytest.mark.parametrize(
    ("universe", "slot", "channel"),
    [(1, 1, 1), (1, 512, 512), (2, 1, 513), (9, 104, 4200), (10, 1, 4609), (10, 12, 4620)],
)
def test_absolute_channels_count_512_slots_a_universe(universe: int, slot: int, channel: int):
    """Universe (c - 1) // 512 + 1, slot (c - 1) % 512 + 1: common practice, no source."""
    assert slot_address(Protocol.E131, universe, slot).channel == channel
    assert slot_address(Protocol.ARTNET, universe - 1, slot).channel == channel


def test_a_port_address_is_told_in_both_forms():
    """Art-Net 4: Net 7 bits, Sub-Net 4, Universe 4; 1443 is 5:10:3 (golden packet G3 of tests/wire)."""
    string = port(1, 1443, nodes=3)
    lake = controller(string, protocol=Protocol.ARTNET, address="127.0.0.3")
    (universe,) = universes_of(display(lake))
    assert extent_of_string(lake, string).first.text == "Port-Address 1443 (5:10:3)"
    assert universe.port_address == "5:10:3"
    assert universe.groups is None


@pytest.mark.parametrize(
    ("universe", "ipv4"),
    [(1, "239.255.0.1"), (256, "239.255.1.0"), (1000, "239.255.3.232"), (63999, "239.255.249.255")],
)
def test_an_e131_universe_has_a_group_of_each_family(universe: int, ipv4: str):
    """ANSI E1.31-2018 tables 9-10 and 9-11, worked out here with `ipaddress`."""
    (found,) = universes_of(display(controller(port(1, universe, nodes=1))))
    assert found.groups is not None
    assert found.groups.ipv4 == ipv4 == str(ipaddress.IPv4Address("239.255.0.0") + universe)
    assert ipaddress.ip_address(found.groups.ipv6) == ipaddress.ip_address("ff18::8300:0") + universe
    assert found.groups.ipv6 == e131.multicast_group_v6(universe)
    assert found.is_multicast


def test_shared_and_free_universes_are_told():
    """Two strings in universe 3, a fixture in 9: 4 to 8 are free."""
    jetty = controller(port(1, 3, nodes=10), port(2, 3, 100, nodes=10), fixtures=(flood(9),))
    three, nine = universes_of(display(jetty))
    assert three.members == ("jetty/1", "jetty/2")
    assert three.is_shared
    assert not nine.is_shared
    assert (three.slots_used, three.slots_left, three.next_slot) == (60, 452, 130)
    (free,) = free_between((three, nine))
    assert (free.first, free.last, free.text) == (4, 8, "universe 4 to 8")


def test_a_full_universe_has_no_next_slot():
    """128 RGBW nodes take all 512."""
    (full,) = universes_of(display(controller(port(1, 1, nodes=128, colour_order="RGBW"))))
    assert (full.slots_left, full.next_slot) == (0, None)


def test_one_universe_to_two_addresses_is_two_streams():
    """Each has its own slots; both are in the list, E1.31 before Art-Net."""
    shore = controller(port(1, 7, nodes=1), name="shore", address="127.0.0.2")
    jetty = controller(port(1, 7, nodes=2), address="127.0.0.1")
    roof = controller(port(1, 2, nodes=2), name="roof", address="127.0.0.1", protocol=Protocol.ARTNET)
    found = universes_of(display(roof, shore, jetty))
    assert [(each.universe, each.address, each.slots_used) for each in found] == [
        (7, "127.0.0.1", 6),
        (7, "127.0.0.2", 3),
        (2, "127.0.0.1", 6),
    ]


def test_a_fixture_takes_its_channels():
    """Four from slot 33."""
    extent = extent_of_fixture(controller(), flood(2, 33))
    assert (extent.first.slot, extent.last.slot, extent.last.channel) == (33, 36, 512 + 36)
