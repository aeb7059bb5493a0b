"""Universes named on the command line, and displays sent elsewhere."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.display.model import Display, Protocol
from streamer.display.patch import compile_patch
from streamer.display.ranges import UNIVERSES_LIMIT, display_from_ranges, parse_ranges, readdress
from streamer.display.sample import sample_display
from streamer.errors import PlanError

E131, ARTNET = Protocol.E131, Protocol.ARTNET


@pytest.mark.parametrize(
    ("text", "protocol", "numbers"),
    [
        ("1", E131, (1,)),
        ("1-4,7,1443", E131, (1, 2, 3, 4, 7, 1443)),
        (" 9 , 2 - 3 ", E131, (9, 2, 3)),
        ("63999", E131, (63999,)),
        ("0,32767", ARTNET, (0, 32767)),
        ("0:1:3", ARTNET, (19,)),
        ("0:0:15-0:1:1,127:15:15", ARTNET, (15, 16, 17, 32767)),
    ],
)
def test_ranges_are_read_in_the_order_written(text: str, protocol: Protocol, numbers: tuple[int, ...]):
    """E1.31 universes are 1 to 63999 (clause 6.2.7), Port-Addresses 0 to 32767, also in three parts."""
    assert parse_ranges(text, protocol) == numbers


@pytest.mark.parametrize(
    ("text", "protocol", "what", "instead"),
    [
        ("", E131, "'' is not a universe", "-u 1-4,7,1443"),
        ("1,,2", E131, "'' is not a universe", "-u 1-4,7,1443"),
        ("0", E131, "from 1 to 63999", "-u 1-4"),
        ("64000", E131, "from 1 to 63999", "-u 1-4"),
        ("32768", ARTNET, "from 0 to 32767", "0:1:3"),
        ("0:16:0", ARTNET, "0:0:0 to 127:15:15", "0:1:3"),
        ("0:1:3", E131, "is not a universe", "-u 1-4"),
        ("1-2-3", E131, "more than two ends", "-u 1-4"),
        ("7-4", E131, "runs downwards", "4-7"),
        ("-4", E131, "is not a universe", "-u 1-4"),
        ("1e3", E131, "is not a universe", "-u 1-4"),
        ("\u0661", E131, "is not a universe", "-u 1-4"),
        ("9" * 5000, E131, "is not a universe", "-u 1-4"),
        ("1-4,3", E131, "universe 3 is named twice", "once"),
        ("0:1:3,19", ARTNET, "Port-Address 19 (0:1:3) is named twice", "once"),
        ("1-63999", E131, "more than 4000 universes", "several runs"),
        ("1," * 30_000, E131, "too long", "1-400"),
        ("\x1b[2J", E131, r"'\x1b[2J' is not a universe", "-u 1-4"),
    ],
)
def test_a_wrong_range_is_told_with_what_to_write(text: str, protocol: Protocol, what: str, instead: str):
    """The place is the option, -u."""
    with pytest.raises(PlanError) as caught:
        parse_ranges(text, protocol)
    told = caught.value.problems[0]
    assert told.place == "-u"
    assert what in told.what
    assert instead in told.instead


def test_every_wrong_part_is_told_at_once():
    """Three slips, three problems."""
    with pytest.raises(PlanError) as caught:
        parse_ranges("0,5-4,7,7", E131)
    assert len(caught.value.problems) == 3


@given(st.text(st.sampled_from("0123456789-,: x"), max_size=30), st.sampled_from(Protocol))
def test_any_text_gives_numbers_in_range_or_a_plan_error(text: str, protocol: Protocol):
    """Nothing else ever comes out."""
    try:
        numbers = parse_ranges(text, protocol)
    except PlanError:
        return
    assert len(set(numbers)) == len(numbers) <= UNIVERSES_LIMIT
    low, high = (1, 63999) if protocol is E131 else (0, 32767)
    assert all(low <= number <= high for number in numbers)


def test_each_address_gets_a_controller_and_each_universe_a_port():
    """170 RGB nodes fill 510 slots of each."""
    display = display_from_ranges((1, 2, 1443), E131, ("multicast", "127.0.0.1"), priority=120)
    assert [controller.name for controller in display.controllers] == ["multicast", "127.0.0.1"]
    assert [controller.priority for controller in display.controllers] == [120, 120]
    assert [port.name for port in display.ports][:3] == ["multicast/1", "multicast/2", "multicast/3"]
    patch = compile_patch(display)
    assert [stream.key.universe for stream in patch.streams] == [1, 2, 1443] * 2
    assert len(patch.layout.place) == 6 * 170


def test_the_longest_list_makes_a_display():
    """4,000 universes of 170 nodes are just within the limit."""
    display = display_from_ranges(parse_ranges("1-4000", E131), E131, ("multicast",))
    assert len(display.ports) == UNIVERSES_LIMIT


@pytest.mark.parametrize(
    ("nodes", "order", "most"), [(171, "RGB", 170), (0, "RGB", 170), (129, "RGBW", 128), (-1, "GRB", 170)]
)
def test_more_nodes_than_512_slots_hold_are_refused(nodes: int, order: str, most: int):
    """512 // 3 = 170, 512 // 4 = 128."""
    with pytest.raises(PlanError, match=f"holds 1 to {most}"):
        display_from_ranges((1,), E131, ("multicast",), nodes, order)


@pytest.mark.parametrize(
    ("protocol", "address", "settings", "told"),
    [
        (E131, "multicast", {"priority": 201}, "priority: 201 must be a whole number from 0 to 200"),
        (E131, "multicast", {"sync_address": 64000}, "sync address: 64000"),
        (E131, "lights.local", {}, "host names are not looked up"),
        (ARTNET, "multicast", {}, "Art-Net is not sent to multicast"),
        (ARTNET, "127.0.0.1", {"priority": 99}, "'priority' is not for Art-Net"),
        (ARTNET, "127.0.0.1", {"slots": 511}, "even number of slots"),
        (E131, "multicast", {"slots": 100}, "reaches slot 510"),
    ],
)
def test_a_wrong_setting_is_a_plan_error(
    protocol: Protocol, address: str, settings: dict[str, Any], told: str
):
    """The checks of a file hold without one."""
    with pytest.raises(PlanError) as caught:
        display_from_ranges((1,), protocol, (address,), **settings)
    assert told in str(caught.value)


def test_a_wrong_colour_order_is_a_plan_error():
    """It is told once, although every port has it."""
    with pytest.raises(PlanError, match="no order of RGB"):
        display_from_ranges((1,), E131, ("multicast",), 170, "RGX")


def test_a_display_can_be_sent_to_one_other_address():
    """Names stay, and so do the streams but for their address."""
    moved = readdress(sample_display(), ("127.0.0.9",))
    assert [controller.address for controller in moved.controllers] == ["127.0.0.9"] * 2
    assert [port.name for port in moved.ports] == [port.name for port in sample_display().ports]


def test_a_display_can_be_sent_to_several_addresses():
    """Each controller is repeated under a name of its own."""
    moved = readdress(sample_display(), ("127.0.0.8", "127.0.0.9"))
    assert [controller.name for controller in moved.controllers] == [
        "boathouse@127.0.0.8", "lake@127.0.0.8", "boathouse@127.0.0.9", "lake@127.0.0.9",
    ]  # fmt: skip
    assert moved.ports[0].name == "boathouse@127.0.0.8/1"
    assert len(compile_patch(moved).streams) == 2 * len(compile_patch(sample_display()).streams)


def test_controllers_that_collide_at_one_address_are_told():
    """Two controllers may use universe 1 each at its own address, but not at the same."""
    apart = display_from_ranges((1,), E131, ("127.0.0.1", "127.0.0.2"))
    with pytest.raises(PlanError) as caught:
        readdress(apart, ("127.0.0.9",))
    assert "both use universe 1, slots 1-510 at 127.0.0.9" in str(caught.value)
    assert "sent to 127.0.0.9" in str(caught.value)


def test_an_address_given_twice_is_refused():
    """Each controller would be sent twice to the same place."""
    twice = ("127.0.0.9", "127.0.0.9")
    with pytest.raises(PlanError, match=r"127\.0\.0\.9 is given twice"):
        readdress(sample_display(), twice)
    with pytest.raises(PlanError, match=r"127\.0\.0\.9 is given twice"):
        display_from_ranges((1,), E131, twice)


def test_no_address_at_all_leaves_nothing_to_send():
    """It is told as an empty display."""
    empty = Display(name="x", controllers=())
    with pytest.raises(PlanError, match="no port and no fixture"):
        readdress(empty, ("127.0.0.1",))
