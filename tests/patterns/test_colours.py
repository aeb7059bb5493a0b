from collections.abc import Callable

import numpy as np

from patterns.colours import COLOURS, DIM, WHITE_LIGHT, dimmed, even, named, paint
from patterns.plain import Layout


def test_the_colours_are_those_of_additive_light():
    """Red, green, blue, in pairs and together (CSS Color Level 4, section 6.1; there, green is `lime`)."""
    css = {
        "red": "ff0000", "yellow": "ffff00", "green": "00ff00", "cyan": "00ffff",
        "blue": "0000ff", "magenta": "ff00ff", "white": "ffffff",
    }  # fmt: skip
    assert {colour.name: bytes(colour.value[:3]).hex() for colour in COLOURS} == css


def test_each_colour_has_its_letter():
    """R Y G C B M W: the first letters, all different (the letters are common practice, no source)."""
    assert "".join(colour.letter for colour in COLOURS) == "RYGCBMW"
    assert all(colour.name.startswith(colour.letter.lower()) for colour in COLOURS)


def test_white_is_red_green_and_blue_and_the_white_light_is_itself():
    """White leaves the fourth light off; `white-light` lights it alone."""
    assert named("white").tolist() == [255, 255, 255, 0]
    assert named("white-light").tolist() == [0, 0, 0, 255]
    assert WHITE_LIGHT not in COLOURS


def test_dim_is_no_lit_node():
    """Dim is under a tenth of full light, yet at a level of 30 % it is still more than nothing."""
    assert DIM.max() < 25.5
    assert DIM.max() * 0.3 >= 1


def test_painting_and_drawing_give_each_node_its_row(make_layout: Callable[..., Layout]):
    """Every node gets the four octets of the colour it chose, in their order."""
    palette = np.array([[1, 2, 3, 4], [5, 6, 7, 8]], np.uint8)
    assert paint(palette, np.array([1, 0, 1], np.uint8)).tolist() == [
        [5, 6, 7, 8],
        [1, 2, 3, 4],
        [5, 6, 7, 8],
    ]
    assert make_layout(2).draw(even(palette[0])).nodes.tolist() == [[1, 2, 3, 4]] * 2
    nothing = make_layout().draw(even(palette[0])).nodes
    assert paint(palette, np.zeros(0, np.uint8)).shape == nothing.shape == (0, 4)


def test_the_table_cannot_be_painted_over():
    """A colour's value is read-only, and dimming makes a new one."""
    assert not any(colour.value.flags.writeable for colour in COLOURS)
    assert dimmed(named("yellow"), 7).tolist() == [7, 7, 0, 0]
    assert named("yellow").tolist() == [255, 255, 0, 0]
