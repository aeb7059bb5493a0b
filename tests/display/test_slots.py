"""Where nodes fall, against worked numbers and against a loop that walks the line slot by slot."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.display.model import COLOUR_ORDERS, Addressing, Controller, Port, Protocol, Segment
from streamer.display.slots import slots_of_line, slots_of_string

ALIGNED, PACKED = Addressing.ALIGNED, Addressing.PACKED


def controller(addressing: Addressing) -> Controller:
    """Return a controller with no ports of its own."""
    return Controller(name="jetty", protocol=Protocol.E131, address="127.0.0.1", addressing=addressing)


def port(nodes: int, order: str = "RGB", universe: int = 1, slot: int = 1, **more: Any) -> Port:
    """Return a port with one plain string."""
    segments = (Segment(nodes=nodes),)
    return Port(
        name="jetty/1", number=1, universe=universe, slot=slot, colour_order=order, segments=segments, **more
    )


def node(addressing: Addressing, string: Port, number: int) -> list[tuple[int, int]]:
    """Return the (universe, slot) pairs, slots from 1, of a node counted from 1."""
    universe, slot = slots_of_string(controller(addressing), string)
    return list(zip(universe[number - 1].tolist(), (slot[number - 1] + 1).tolist(), strict=True))


# ANSI E1.11 and E1.31: 512 slots a universe. The rest is arithmetic, done by hand.


@pytest.mark.parametrize(("order", "fit", "last_slot"), [("RGB", 170, 510), ("RGBW", 128, 512)])
def test_as_many_whole_nodes_fit_a_universe_as_512_slots_allow(order: str, fit: int, last_slot: int):
    """170 RGB nodes use 510 slots and 128 RGBW nodes 512; the next one opens universe 2."""
    assert node(ALIGNED, port(fit, order), fit)[-1] == (1, last_slot)
    assert node(ALIGNED, port(fit + 1, order), fit + 1)[0] == (2, 1)


def test_a_packed_node_171_is_split_between_two_universes():
    """Its slots are 511 and 512 of universe 1 and slot 1 of universe 2."""
    assert node(PACKED, port(171), 171) == [(1, 511), (1, 512), (2, 1)]


def test_an_aligned_node_1280_ends_the_ninety_node_remainder_of_universe_8():
    """1280 = 7 x 170 + 90, so it has slots 268 to 270 of universe 8."""
    assert node(ALIGNED, port(1280), 1280) == [(8, 268), (8, 269), (8, 270)]


def test_fourteen_packed_strings_of_100_nodes_begin_every_300_channels():
    """Divided by hand: string 2 at channel 301, string 3 at 601 = (2, 89), string 14 at (8, 317)."""
    whole = port(1400)
    starts = [node(PACKED, whole, 100 * string + 1)[0] for string in range(14)]
    assert starts[:5] == [(1, 1), (1, 301), (2, 89), (2, 389), (3, 177)]
    assert starts[-1] == (8, 317)
    assert node(PACKED, whole, 1400)[-1] == (9, 104)


def test_the_straddling_nodes_of_fourteen_packed_strings_are_these_six():
    """Universes end inside a node except where 512 u is a multiple of 3 (u = 3 and 6)."""
    universe, _ = slots_of_string(controller(PACKED), port(1400))
    split = np.flatnonzero(universe[:, 0] != universe[:, 2])
    assert [(n // 100 + 1, n % 100 + 1) for n in split.tolist()] == [
        (2, 71), (4, 42), (7, 83), (9, 54), (12, 95), (14, 66),
    ]  # fmt: skip


def test_three_inch_spacing_puts_32_nodes_on_8_feet():
    """Common practice, no source: 8 ft of 12 in at 3 in a node; four lengths carry 128 nodes, 384 slots."""
    on_one_length = 8 * 12 // 3
    assert on_one_length == 32
    assert node(PACKED, port(4 * on_one_length), 128)[-1] == (1, 384)


def test_ten_strings_of_128_nodes_make_3840_channels():
    """Common practice, no source: 10 x 128 x 3 = 3,840 = 7 universes and 256 slots, packed."""
    assert node(PACKED, port(1280), 1280)[-1] == (8, 256)


def test_a_reversed_string_has_its_last_node_first_on_the_line():
    """The node that hangs last gets the start slot."""
    string = port(50, reversed=True)
    assert node(ALIGNED, string, 50)[0] == (1, 1)
    assert node(ALIGNED, string, 1)[0] == (1, 148)


def test_skipped_nodes_push_the_string_along_the_line():
    """Two skipped RGB nodes take six slots before the first that hangs."""
    assert node(ALIGNED, port(50, skip=2), 1)[0] == (1, 7)
    assert node(ALIGNED, port(50, skip=2, reversed=True), 50)[0] == (1, 7)


def walk(addressing: Addressing, string: Port) -> list[list[tuple[int, int]]]:
    """Lay the line out slot by slot, as a person with a pencil would: the oracle."""
    width, universe, slot = len(string.colour_order), string.universe, string.slot
    line = []
    for _ in range(string.skip + string.nodes):
        if addressing is ALIGNED and slot + width > 513:
            universe, slot = universe + 1, 1
        places = []
        for _ in range(width):
            if slot > 512:
                universe, slot = universe + 1, 1
            places.append((universe, slot - 1))
            slot += 1
        line.append(places)
    return line


strings = st.builds(
    port,
    nodes=st.integers(1, 700),
    order=st.sampled_from(sorted(COLOUR_ORDERS)),
    universe=st.integers(1, 60_000),
    slot=st.integers(1, 512),
    skip=st.integers(0, 100),
    reversed=st.booleans(),
)


@given(st.sampled_from(Addressing), strings)
def test_every_node_falls_where_the_pencil_puts_it(addressing: Addressing, string: Port):
    """The arrays agree with the loop for any start, order, skip and direction."""
    line = walk(addressing, string)
    universe, slot = slots_of_line(controller(addressing), string)
    assert np.stack([universe, slot], axis=2).tolist() == [[list(pair) for pair in node] for node in line]
    hung = line[string.skip :]
    universe, slot = slots_of_string(controller(addressing), string)
    expected = hung[::-1] if string.reversed else hung
    assert np.stack([universe, slot], axis=2).tolist() == [[list(pair) for pair in node] for node in expected]
