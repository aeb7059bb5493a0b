"""What a whole display must keep to: overlaps, shared streams, bounds."""

import time
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.display.checks import check
from streamer.display.model import (
    NODES_LIMIT,
    Addressing,
    Controller,
    Display,
    Fixture,
    Port,
    Protocol,
    Role,
    Segment,
)
from streamer.display.overlaps import TOLD_LIMIT
from streamer.display.places import KeyPath, Place
from streamer.display.slots import slots_of_line
from streamer.errors import Problem


def locate(path: KeyPath) -> Place:
    """Show the path itself."""
    return Place(".".join(map(str, path)))


def port(number: int, nodes: int, universe: int, slot: int = 1, skip: int = 0) -> Port:
    """Return a port with one plain string."""
    return Port(
        name=f"jetty/{number}",
        number=number,
        universe=universe,
        slot=slot,
        skip=skip,
        segments=tuple(Segment(nodes=min(10_000, nodes - start)) for start in range(0, nodes, 10_000)),
    )


def controller(
    *ports: Port, name: str = "jetty", protocol: Protocol = Protocol.E131, **more: Any
) -> Controller:
    """Return a controller on loopback."""
    settings = {"address": "127.0.0.1", "addressing": Addressing.PACKED} | more
    return Controller(name=name, protocol=protocol, ports=ports, **settings)


def found(*controllers: Controller) -> list[Problem]:
    """Check a display of these controllers."""
    return check(Display(name="Boathouse", controllers=controllers), locate)


def test_an_overlap_is_told_once_with_both_names_and_the_whole_range():
    """String 2 begins 12 slots before string 1 ends; string 1 has slots 1 to 300."""
    (told,) = found(controller(port(1, 100, 1), port(2, 100, 1, 289)))
    assert told.what == "jetty/2 and jetty/1 both use universe 1, slots 289-300 at 127.0.0.1"
    assert told.place == "controllers.0.ports.1.slot"
    assert told.instead.endswith("universe = 1, slot = 301")


def test_an_overlap_over_several_universes_is_told_once():
    """Two equal strings of 400 nodes: 1,200 slots, so 2 universes and 176 slots."""
    (told,) = found(controller(port(1, 400, 4), port(2, 400, 4)))
    assert "both use everything from universe 4, slot 1 to universe 6, slot 176" in told.what
    assert told.instead.endswith("universe = 6, slot = 177")


def test_an_art_net_overlap_has_both_numberings():
    """Port-Address 19 is 0:1:3."""
    (told,) = found(controller(port(1, 10, 19), port(2, 10, 19, 30), protocol=Protocol.ARTNET))
    assert "Port-Address 19 (0:1:3), slot 30 at" in told.what
    assert "port_address = 19, slot = 31" in told.instead


def test_strings_that_share_a_universe_without_overlap_are_fine():
    """One ends at slot 300, the other begins at 301."""
    assert found(controller(port(1, 100, 1), port(2, 50, 1, 301))) == []


def test_the_same_slots_at_other_addresses_or_by_the_other_protocol_are_other_slots():
    """A stream is one universe to one destination by one protocol."""
    one = controller(port(1, 100, 1))
    other = controller(port(1, 100, 1), name="shed", address="127.0.0.2")
    third = controller(port(1, 100, 1), name="roof", protocol=Protocol.ARTNET)
    assert found(one, other, third) == []


def test_skipped_nodes_claim_their_slots():
    """Whatever is sent there would light them."""
    (told,) = found(controller(port(1, 10, 1, 7, skip=2), port(2, 2, 1, 7)))
    assert "universe 1, slots 7-12" in told.what
    assert found(controller(port(1, 10, 1, 7, skip=2), port(2, 2, 1, 1))) == []


def test_two_controllers_that_share_a_stream_must_agree_on_its_settings():
    """One packet has one priority."""
    one = controller(port(1, 10, 1), priority=100)
    other = controller(port(1, 10, 1, 31), name="shed", priority=120)
    (told,) = found(one, other)
    assert told.what == "jetty and shed share universe 1 at 127.0.0.1, but differ in 'priority' (100 and 120)"
    assert told.instead.endswith("priority = 100")


def test_broadcast_addresses_are_fine_for_art_net():
    """Both the limited and a directed broadcast."""
    for address in ("255.255.255.255", "192.168.7.255"):
        assert found(controller(port(1, 10, 0), protocol=Protocol.ARTNET, address=address)) == []


@pytest.mark.parametrize(("protocol", "last"), [(Protocol.E131, 63999), (Protocol.ARTNET, 32767)])
def test_a_string_may_reach_the_last_universe_but_not_run_past_it(protocol: Protocol, last: int):
    """ANSI E1.31-2018 clause 6.2.7: 63999; Art-Net 4: 15 bits. 341 packed nodes need 1,023 slots."""
    assert found(controller(port(1, 341, last - 1), protocol=protocol)) == []
    (told,) = found(controller(port(1, 342, last - 1), protocol=protocol))
    assert str(last + 1) in told.what
    assert told.instead.endswith(f"= {last - 2}")


def test_the_node_limit_is_told_before_anything_is_laid_out():
    """A small file may ask for a thousand million nodes; that costs no memory."""
    (told,) = found(controller(port(1, NODES_LIMIT + 1, 1)))
    assert str(NODES_LIMIT) in told.what


def test_a_thousand_ports_on_one_slot_are_told_in_a_bounded_list():
    """Half a million pairs overlap; fifty are named, and it is said that there are more."""
    told = found(controller(*(port(number, 1, 1) for number in range(1, 1001))))
    assert len(told) == TOLD_LIMIT + 1
    assert "more strings or fixtures overlap than the 50 pairs told" in told[-1].what


def test_a_thousand_universes_are_checked_in_well_under_a_second():
    """Of the processor; a generous bound, so that only a loop over slots or pairs would break it."""
    many = controller(*(port(number, 170, number) for number in range(1, 1001)))
    began = time.process_time()
    assert found(many) == []
    assert time.process_time() - began < 1.0


ports = st.builds(
    port,
    number=st.just(1),
    nodes=st.integers(1, 400),
    universe=st.integers(1, 4),
    slot=st.integers(1, 500),
    skip=st.integers(0, 5),
)


@given(st.lists(ports, max_size=6), st.lists(st.integers(1, 510), max_size=3), st.sampled_from(Addressing))
def test_overlaps_are_exactly_those_a_set_of_slots_finds(
    strings: list[Port], slots: list[int], how: Addressing
):
    """The oracle puts every slot of every string and fixture into sets and intersects each pair."""
    numbered = tuple(
        string.model_copy(update={"number": n, "name": f"p{n}", "colour_order": "GRBW" if n % 2 else "RGB"})
        for n, string in enumerate(strings, 1)
    )
    fixtures = tuple(
        Fixture(name=f"f{n}", universe=2, slot=slot, channels=(Role.DIMMER, Role.RED))
        for n, slot in enumerate(slots)
    )
    one = controller(*numbered, addressing=how, fixtures=fixtures)
    claimed = {
        string.name: set(
            zip(*(grid.reshape(-1).tolist() for grid in slots_of_line(one, string)), strict=True)
        )
        for string in numbered
    }
    claimed |= {f.name: {(2, f.slot - 1), (2, f.slot)} for f in fixtures}
    names = list(claimed)
    expected = {
        (names[b], names[a])
        for a in range(len(names))
        for b in range(a + 1, len(names))
        if claimed[names[a]] & claimed[names[b]]
    }
    told = [
        tuple(problem.what.split(" both use")[0].split(" and "))
        for problem in found(one)
        if "both use" in problem.what
    ]
    assert len(told) == len(set(told))
    assert set(told) == expected
