from dataclasses import replace

import pytest

from patterns.plain import Param, PatternError, Value
from patterns.registry import get, settle

PATTERN = replace(
    get("level"),
    name="glow",
    params=(
        Param("nodes", 5, "How many.", low=1, high=100, unit="nodes"),
        Param("width", 2.5, "How wide.", low=0.5, unit="m"),
        Param("alone", False, "One at a time."),
        Param("colour", "red", "The colour.", choices=("red", "blue")),
        Param("title", "Lake", "Any text."),
    ),
)


def problems(**given: Value) -> tuple[str, ...]:
    """Return what is wrong with the given parameters."""
    with pytest.raises(PatternError) as caught:
        settle(PATTERN, given)
    assert str(caught.value) == "\n".join(caught.value.problems)
    return caught.value.problems


def test_nothing_given_is_every_default():
    """Defaults fill what was not asked for."""
    assert settle(PATTERN, {}) == {"nodes": 5, "width": 2.5, "alone": False, "colour": "red", "title": "Lake"}


def test_text_becomes_the_right_type():
    """A command line's text is read as the parameter's kind."""
    given = {"nodes": " 7", "width": "3", "alone": "Yes", "colour": "BLUE", "title": "Pier 1"}
    settled = settle(PATTERN, given)
    assert settled == {"nodes": 7, "width": 3.0, "alone": True, "colour": "blue", "title": "Pier 1"}
    assert [type(value) for value in settled.values()] == [int, float, bool, str, str]


@pytest.mark.parametrize(
    ("text", "truth"), [("on", True), ("1", True), (True, True), ("OFF", False), ("no", False)]
)
def test_yes_and_no_have_many_words(text: Value, truth: Value):
    """On, true, yes and 1 are one answer; off, false, no and 0 the other."""
    assert settle(PATTERN, {"alone": text})["alone"] is truth


def test_numbers_may_be_given_as_numbers():
    """A whole float is a whole number; a whole number is a float where one is asked for."""
    settled = settle(PATTERN, {"nodes": 7.0, "width": 3})
    assert (settled["nodes"], settled["width"]) == (7, 3.0)
    assert isinstance(settled["nodes"], int)
    assert isinstance(settled["width"], float)


@pytest.mark.parametrize("value", ["0", 101, "2.5", "many", "", "nan", "inf", True, "9" * 5000, 10**400])
def test_a_number_out_of_range_says_the_range_and_an_example(value: Value):
    """The name, what was given, the range with its unit, and an example."""
    (problem,) = problems(nodes=value)
    assert problem.startswith("nodes: '")
    assert problem.endswith("is not a whole number from 1 to 100 nodes; for example nodes=5")
    assert len(problem) < 150


def test_a_range_may_be_open():
    """Without a highest value, only the lowest is named."""
    assert problems(width="0.1") == ("width: '0.1' is not a number from 0.5 m; for example width=2.5",)
    assert settle(PATTERN, {"width": 1e9})["width"] == 1e9


def test_a_wrong_choice_lists_the_choices():
    """A colour that there is not is answered with those that there are."""
    assert problems(colour="blu") == ("colour: 'blu' is not one of red, blue; for example colour=red",)
    assert problems(alone="perhaps") == ("alone: 'perhaps' is not yes or no; for example alone=no",)


def test_an_unknown_parameter_gets_the_nearest():
    """A misspelt parameter is answered with what was meant, or with them all."""
    assert problems(colr="red") == ("glow has no parameter 'colr'; it has colour",)
    assert problems(zzz="1") == ("glow has no parameter 'zzz'; it has nodes, width, alone, colour, title",)


def test_a_pattern_without_parameters_says_so():
    """There is nothing to offer, and that is said."""
    with pytest.raises(PatternError, match="order has no parameter 'colour'; it has none"):
        settle(get("order"), {"colour": "red"})


def test_every_problem_is_told_at_once():
    """One error holds a sentence for each thing wrong."""
    assert len(problems(nodes="0", width="x", alone="?", colour="mauve", sheen="1")) == 5


def test_control_characters_are_shown_as_plain_text():
    """A value cannot draw on the screen."""
    (problem,) = problems(colour="\x1b[31mred\n")
    assert problem.isprintable()
