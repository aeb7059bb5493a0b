"""Level, ramp and bits: the same value on many nodes."""

from collections.abc import Callable

import numpy as np
import pytest

from patterns.plain import Frame, Layout, Value

MakeLayout = Callable[..., Layout]
Show = Callable[..., Frame]
Tell = Callable[..., str]


def values(show: Show, name: str, layout: Layout, steps: int, **given: Value) -> list[int]:
    """Return the value of the first node's first component at each step, all nodes being alike."""
    found = []
    for step in range(steps):
        nodes = show(name, layout, step, **given).nodes
        assert (nodes == nodes[0]).all()
        found.append(int(nodes[0, 0]))
    return found


def test_the_ramp_sends_every_value_up_and_down_without_a_jump(make_layout: MakeLayout, show: Show):
    """0, 1, ... 255, 254, ... 1 and again: no step but of one, at the end of the round neither."""
    found = values(show, "ramp", make_layout(3), 511)
    assert found == [*range(256), *range(254, -1, -1)]
    assert set(np.abs(np.diff(found)).tolist()) == {1}


def test_each_bit_of_a_slot_toggles_in_the_ramp(make_layout: MakeLayout, show: Show):
    """Every one of an octet's eight bits is seen both set and clear."""
    found = values(show, "ramp", make_layout(1), 510)
    for bit in range(8):
        assert {value >> bit & 1 for value in found} == {0, 1}


def test_bits_sets_one_bit_a_step(make_layout: MakeLayout, show: Show, tell: Tell):
    """1, 2, 4, 8, 16, 32, 64, 128: all eight, one at a time."""
    assert values(show, "bits", make_layout(3), 8) == [1, 2, 4, 8, 16, 32, 64, 128]
    assert tell("bits", make_layout(3), 4) == "white at 16: bit 4 alone, at a level of 100 % only"


@pytest.mark.parametrize("name", ["level", "ramp", "bits"])
def test_a_colour_lights_its_components_alone(name: str, make_layout: MakeLayout, show: Show):
    """Yellow is red and green alike; the white light is the fourth component alone."""
    layout = make_layout(2)
    yellow = show(name, layout, 3, colour="yellow").nodes[0].tolist()
    lit = show(name, layout, 3, colour="white-light").nodes[0].tolist()
    assert yellow[0] == yellow[1] > 0 == yellow[2] == yellow[3]
    assert lit == [0, 0, 0, yellow[0]]


def test_the_level_is_one_steady_colour_on_every_node(make_layout: MakeLayout, show: Show, tell: Tell):
    """Every node has the value asked for, at every step."""
    layout = make_layout(5, 3)
    assert show("level", layout, 9, value=128, colour="magenta").nodes.tolist() == [[128, 0, 128, 0]] * 8
    assert tell("level", layout, value=128, colour="magenta") == "every node magenta, 128 of 255"


def test_the_level_lights_every_nth_node_of_each_string(make_layout: MakeLayout, show: Show, tell: Tell):
    """Every third is nodes 3, 6, 9 of each string, counted from its own head."""
    layout = make_layout(7, 4)
    assert np.flatnonzero(show("level", layout, every=3).nodes.any(axis=1)).tolist() == [2, 5, 9]
    assert tell("level", layout, every=3) == "one node in 3 white, 255 of 255"
