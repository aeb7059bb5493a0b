from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from patterns.plain import Frame, Layout

MakeLayout = Callable[..., Layout]
Show = Callable[..., Frame]
Tell = Callable[..., str]

DIGIT_GAP_MOST = 2


def strings_of(layout: Layout, frame: Frame) -> list[NDArray[np.bool_]]:
    """Return, for each string, which of its nodes give light."""
    lit = frame.nodes.max(axis=1) > 0
    return [
        lit[start : start + length]
        for start, length in zip(layout.string_starts, layout.string_lengths, strict=True)
    ]


def number_at_head(lit: NDArray[np.bool_]) -> int:
    """Count like a person: lit nodes are a digit, ten a nought; after a long gap the number is over."""
    digits, index = [0], 0
    while index < len(lit):
        dark = 0
        while index < len(lit) and not lit[index]:
            dark, index = dark + 1, index + 1
        if dark > DIGIT_GAP_MOST or index == len(lit):
            break
        if dark:
            digits.append(0)
        while index < len(lit) and lit[index]:
            digits[-1], index = digits[-1] + 1, index + 1
    return int("".join(str(digit % 10) for digit in digits))


@pytest.mark.parametrize("length", [24, 50, 100, 170])
def test_the_number_of_a_string_is_read_off_its_head(length: int, make_layout: MakeLayout, show: Show):
    """Each of 48 strings tells its number by lit and dark alone, and its last nodes show its plain colour."""
    layout = make_layout(*[length] * 48)
    strings = strings_of(layout, show("tint", layout))
    assert [number_at_head(lit) for lit in strings] == list(range(1, 49))
    assert all(lit[-1] for lit in strings)


@pytest.mark.parametrize(
    "lengths", [[6] * 48, [5] * 31, [12] * 48, [100] * 48, [5, 100, 50, 24] * 7, [22, 23, 24, 25] * 12]
)
@pytest.mark.parametrize("apart", [0, 1, 3])
def test_no_two_strings_look_alike_without_colour(
    lengths: list[int], apart: int, make_layout: MakeLayout, show: Show
):
    """With every colour taken for light, and ends not seen, all strings differ: even 31 of five nodes."""
    layout = make_layout(*lengths)
    seen = {
        bytes(np.flatnonzero(lit).astype(np.uint8))
        for lit in strings_of(layout, show("tint", layout, apart=apart))
    }
    assert len(seen) == len(lengths)
    assert b"" not in seen


def test_each_string_is_of_one_colour_and_neighbours_differ(make_layout: MakeLayout, show: Show):
    """One glance: seven colours in turn, one a string."""
    layout = make_layout(*[50] * 14)
    nodes = show("tint", layout).nodes.reshape(14, 50, 4)
    colours = [{bytes(node) for node in string if node.any()} for string in nodes]
    assert all(len(colour) == 1 for colour in colours)
    assert len(set.union(*colours[:7])) == 7
    assert colours[:7] == colours[7:]


def test_alone_lights_one_string_a_step(make_layout: MakeLayout, show: Show):
    """Where strings are too many and too short for marks, each is known by being the only one lit."""
    layout = make_layout(*[1] * 60)
    for step in range(60):
        lit = [
            index
            for index, string in enumerate(strings_of(layout, show("tint", layout, step, alone=True)))
            if string.any()
        ]
        assert lit == [step]


def test_alone_a_short_string_is_lit_whole(make_layout: MakeLayout, show: Show):
    """Nothing has to be told apart then, so every node of a five-node string is lit."""
    layout = make_layout(*[5] * 9)
    assert strings_of(layout, show("tint", layout, 3, alone=True))[3].all()


def test_decimal_needs_room_for_a_node_of_plain_colour(make_layout: MakeLayout, tell: Tell):
    """40 is the widest of 48: 4 and 2 and 10 nodes, 6 of gap and one more are 23."""
    assert tell("tint", make_layout(*[23] * 48), 39).endswith("4 lit, gap, 10 lit")
    assert tell("tint", make_layout(*[22] * 48), 39).endswith("lit at 4, 6 only")


def test_a_string_too_short_for_its_number_is_lit_whole(make_layout: MakeLayout, show: Show, tell: Tell):
    """No string is left dark, and the words say why."""
    layout = make_layout(1, 1, 1)
    assert all(lit.all() for lit in strings_of(layout, show("tint", layout)))
    assert tell("tint", layout, 1) == "string 2 of 3, jetty/2: yellow, all lit, too short for its number"


def test_the_words_name_the_string_its_colour_and_its_mark(make_layout: MakeLayout, tell: Tell):
    """Each step names the next string, in decimal where it fits and node by node where it does not."""
    assert (
        tell("tint", make_layout(*[50] * 14), 12) == "string 13 of 14, jetty/13: magenta, 1 lit, gap, 3 lit"
    )
    assert (
        tell("tint", make_layout(*[5] * 14), 12) == "string 13 of 14, jetty/13: magenta, lit at 1, 3, 4 only"
    )


def test_stepping_does_not_change_the_still_picture(make_layout: MakeLayout, show: Show):
    """Only the words move on, unless strings are lit alone."""
    layout = make_layout(50, 50, 50)
    assert np.array_equal(show("tint", layout, 0).nodes, show("tint", layout, 2).nodes)
