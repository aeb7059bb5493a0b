import random
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from patterns.plain import Frame, Layout

MakeLayout = Callable[..., Layout]
Show = Callable[..., Frame]
Tell = Callable[..., str]
Node = tuple[int, ...]

WHITE, YELLOW, BLUE = (255, 255, 255, 0), (255, 255, 0, 0), (0, 0, 255, 0)
NOUGHT = 10


def colours_of(layout: Layout, frame: Frame, string: int) -> list[Node]:
    """Return the colour of each node of a string."""
    start, length = layout.string_starts[string], layout.string_lengths[string]
    return [tuple(node) for node in frame.nodes[start : start + length].tolist()]


def numbers_on(colours: list[Node], apart: int = 0) -> list[str]:
    """Count like a person: white nodes up to `apart` from each other are a digit, a bit more, the next."""
    white = [index for index, colour in enumerate(colours) if colour == WHITE]
    numbers = [[1]]
    for before, here in pairwise(white):
        dark = here - before - 1
        if dark <= apart:
            numbers[-1][-1] += 1
        elif dark <= apart + 2:
            numbers[-1].append(1)
        else:
            numbers.append([1])
    return ["".join("0" if count == NOUGHT else str(count) for count in number) for number in numbers]


def universes() -> list[int]:
    """Return the ends of E1.31 (1 to 63999) and Art-Net (0 to 32767), noughts, and a hundred others."""
    fixed = [0, 1, 9, 10, 100, 101, 255, 1000, 9999, 10000, 32767, 63999]
    return fixed + random.Random(1).sample(range(64000), 100)  # noqa: S311  nothing secret


@pytest.mark.parametrize("apart", [0, 1, 3])
def test_the_number_is_read_back_by_counting(apart: int, make_layout: MakeLayout, show: Show):
    """Every universe writes its whole number, over and over, never a part of it."""
    for universe in universes():
        layout = make_layout(300, universes=[universe])
        numbers = numbers_on(colours_of(layout, show("probe", layout, apart=apart), 0), apart)
        assert set(numbers) == {str(universe)}


@pytest.mark.parametrize("apart", [0, 1, 2, 3])
def test_numbers_are_further_apart_than_digits(apart: int, make_layout: MakeLayout, show: Show):
    """At a glance: the gap after a number is at least twice the gap after a digit."""
    layout = make_layout(100, universes=[11])
    lit = np.flatnonzero(show("probe", layout, apart=apart).nodes.any(axis=1))
    digit_gap, number_gap = np.diff(lit)[:2] - 1
    assert number_gap >= 2 * digit_gap > 2 * apart


def test_it_is_repeated_along_the_string(make_layout: MakeLayout, show: Show):
    """On 100 nodes, universe 12 (5 nodes and a gap) is written many times."""
    layout = make_layout(100, universes=[12])
    assert numbers_on(colours_of(layout, show("probe", layout), 0)) == ["12"] * 9


def test_the_universes_beside_it_differ_in_shape_and_colour(make_layout: MakeLayout, show: Show):
    """Below: every second node yellow. Above: all blue. Two off and further: dark."""
    layout = make_layout(50, 50, 50, 50, 50, universes=[10, 11, 12, 13, 14])
    frame = show("probe", layout, 2)
    dark = (0, 0, 0, 0)
    assert colours_of(layout, frame, 0) == colours_of(layout, frame, 4) == [dark] * 50
    assert colours_of(layout, frame, 1) == [YELLOW, dark] * 25
    assert colours_of(layout, frame, 3) == [BLUE] * 50
    assert set(numbers_on(colours_of(layout, frame, 2))) == {"12"}


def test_strings_that_stand_in_are_lit_but_never_probed(make_layout: MakeLayout, show: Show, tell: Tell):
    """Universes that the plan lacks get the look of the side they are on, and no step of their own."""
    layout = make_layout(50, 50, 50, universes=[6, 7, 8], stand_ins=[True, False, True])
    assert tell("probe", layout, 0) == tell("probe", layout, 1)
    frame = show("probe", layout, 1)
    assert colours_of(layout, frame, 0)[:2] == [YELLOW, (0, 0, 0, 0)]
    assert set(numbers_on(colours_of(layout, frame, 1))) == {"7"}
    assert colours_of(layout, frame, 2) == [BLUE] * 50


def test_steps_go_through_the_universes_in_order(make_layout: MakeLayout, tell: Tell):
    """Sorted and each once, whatever the order of the strings."""
    layout = make_layout(50, 50, 50, universes=[300, 2, 300])
    assert [tell("probe", layout, step).split(":")[0] for step in range(3)] == [
        "universe 2",
        "universe 300",
        "universe 2",
    ]


def test_only_the_nodes_of_the_universe_show_its_number(make_layout: MakeLayout, show: Show):
    """A string over two universes writes the second number from that universe's first node on."""
    layout = make_layout(340)
    layout = replace(layout, universe_of_node=np.repeat(np.array([12, 13], np.int32), 170))
    lower, upper = (colours_of(layout, show("probe", layout, step), 0) for step in (0, 1))
    assert set(numbers_on(lower[:170])) == {"12"}
    assert lower[170:] == [BLUE] * 170
    assert upper[:170] == [YELLOW, (0, 0, 0, 0)] * 85
    assert upper[170] == WHITE
    assert set(numbers_on(upper[170:])) == {"13"}


def test_a_short_string_shows_the_last_digits_that_fit(make_layout: MakeLayout, show: Show, tell: Tell):
    """102 needs 17 nodes; 14 show 02, 13 show 2 twice, 2 show it once, 1 is all lit; the words say so."""
    layout = make_layout(17, 16, 14, 13, 2, 1, universes=[102] * 6)
    frame = show("probe", layout)
    seen = [numbers_on(colours_of(layout, frame, string)) for string in range(5)]
    assert seen == [["102"], ["02"], ["02"], ["2"] * 2, ["2"]]
    assert colours_of(layout, frame, 5) == [WHITE]
    assert "last digits only: 4; too short, all lit white: 1" in tell("probe", layout)


def test_the_words_say_what_to_expect(make_layout: MakeLayout, tell: Tell):
    """The universe, its tally, and both ways to be wrong."""
    assert tell("probe", make_layout(50, universes=[12])) == (
        "universe 12: 1 lit, gap, 2 lit, white. "
        "Set one too low shows every second node yellow, one too high all blue"
    )
