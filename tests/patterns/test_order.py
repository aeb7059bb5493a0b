"""What a node shows is worked out here from the slots on the line, apart from the code under test.

A node takes the slots of its line in turn, three (RGB) or four (RGBW), and its own order says which colour
each drives (WS2811 datasheet: red first; WS2812B and SK6812RGBW datasheets: green first; from memory).
"""

from collections.abc import Callable
from itertools import pairwise, permutations

import numpy as np
import pytest

from patterns.plain import Bytes, Frame, Layout

MakeLayout = Callable[..., Layout]
Show = Callable[..., Frame]
Tell = Callable[..., str]

COMPONENT = {"R": 0, "G": 1, "B": 2, "W": 3}


def slots_sent(nodes: Bytes, planned: str) -> Bytes:
    """Return the slots of a string whose plan says `planned`, end to end."""
    return nodes[:, [COMPONENT[letter] for letter in planned]].reshape(-1)


def seen(slots: Bytes, true: str, slip: int = 0) -> list[str]:
    """Return the set of colour letters that each node shows, when its start is off by `slip` slots."""
    line = np.roll(slots, -slip).reshape(-1, len(true))
    return [
        "".join(letter for letter, value in zip(true, node, strict=True) if value) for node in line.tolist()
    ]


def blocks(shown: list[str]) -> list[tuple[int, int, str]]:
    """Return (first node, lit nodes, colour) for each unbroken block of lit nodes."""
    found: list[tuple[int, int, str]] = []
    for index, colour in enumerate(shown):
        if colour and index and shown[index - 1]:
            first, lit, begun = found[-1]
            found[-1] = (first, lit + 1, begun)
        elif colour:
            found.append((index, 1, colour))
    return found


def orders(letters: str) -> list[str]:
    """Return every order of the letters."""
    return ["".join(order) for order in permutations(letters)]


@pytest.mark.parametrize("letters", ["RGB", "RGBW"])
def test_the_blocks_tell_every_order_from_every_plan(letters: str, make_layout: MakeLayout, show: Show):
    """For each plan and each truth (6 x 6, 24 x 24): its letters replaced by what is seen give the truth."""
    nodes = show("order", make_layout(48, white=[len(letters) == 4])).nodes
    for planned in orders(letters):
        slots = slots_sent(nodes, planned)
        for true in orders(letters):
            by_count = {lit: colour for _, lit, colour in blocks(seen(slots, true))}
            assert sorted(by_count) == list(range(1, len(letters) + 1))
            told = {letter: by_count[number] for number, letter in enumerate(letters, start=1)}
            assert "".join(told[letter] for letter in planned) == true


@pytest.mark.parametrize("letters", ["RGB", "RGBW"])
def test_the_solid_steps_tell_every_order(letters: str, make_layout: MakeLayout, show: Show):
    """Each colour alone on every node: the colours seen, in turn, are the true order of a plan of RGB(W)."""
    layout = make_layout(10, white=[len(letters) == 4])
    for true in orders(letters):
        told = ""
        for step in range(1, len(letters) + 1):
            (colour,) = set(seen(slots_sent(show("order", layout, step).nodes, letters), true))
            told += colour
        assert told == true


@pytest.mark.parametrize("letters", ["RGB", "RGBW"])
def test_a_slipped_start_is_not_taken_for_an_order(letters: str, make_layout: MakeLayout, show: Show):
    """A wrong order leaves gaps of 2 and 8 dark nodes; a start off by part of a node does not."""
    width = len(letters)
    nodes = show("order", make_layout(72, white=[width == 4])).nodes

    def gaps(true: str, slip: int) -> set[int]:
        found = blocks(seen(slots_sent(nodes, letters), true, slip))
        return {after[0] - before[0] - before[1] for before, after in pairwise(found)}

    for true in orders(letters):
        assert gaps(true, 0) == {2, 8}
        for slip in [*range(1, width), *range(-width + 1, 0)]:
            assert gaps(true, slip) != {2, 8}


def test_each_string_shows_what_its_nodes_have(make_layout: MakeLayout, show: Show, tell: Tell):
    """RGB strings get three blocks and RGBW strings four, side by side; the words name them by count."""
    layout = make_layout(24, 24, white=[False, True])
    nodes = show("order", layout).nodes.reshape(2, 24, 4)
    assert [lit for _, lit, _ in blocks(seen(nodes[0].reshape(-1), "RGBW"))] == [1, 2, 3, 1, 2]
    assert [lit for _, lit, _ in blocks(seen(nodes[1].reshape(-1), "RGBW"))] == [1, 2, 3, 4]
    assert tell("order", layout).startswith("blocks: one red, two green, three blue, four white light.")
    assert tell("order", make_layout(24)).startswith(
        "blocks: one red, two green, three blue. In the planned order"
    )
    assert tell("order", layout, 4).startswith("every node white light, RGBW nodes only.")
