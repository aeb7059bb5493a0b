from collections.abc import Callable

from patterns.plain import Frame, Layout, Value
from patterns.registry import get, settle

MakeLayout = Callable[..., Layout]
Show = Callable[..., Frame]
Tell = Callable[..., str]

LANTERN = ("dimmer", "red", "green", "blue", "strobe", "pan", "unused")
LAMP = ("amber", "white")


def walk_through(show: Show, layout: Layout, **given: Value) -> list[dict[int, int]]:
    """Return the raised channels of each step, by index."""
    pattern = get("fixtures")
    steps = pattern.steps(layout, settle(pattern, given))
    frames = [show("fixtures", layout, step, **given) for step in range(steps)]
    assert not any(frame.nodes.any() for frame in frames)
    return [{index: int(value) for index, value in enumerate(frame.channels) if value} for frame in frames]


def test_each_light_channel_is_raised_in_turn_with_its_dimmer(make_layout: MakeLayout, show: Show):
    """The dimmer alone; then each colour with the dimmer; a fixture without a dimmer, its colours alone."""
    layout = make_layout(5, fixtures=[LANTERN, LAMP])
    assert [set(raised) for raised in walk_through(show, layout)] == [{0}, {0, 1}, {0, 2}, {0, 3}, {7}, {8}]


def test_strobe_and_movement_stay_at_zero_unless_asked_for(make_layout: MakeLayout, show: Show):
    """By default no step of any fixture raises strobe, pan, tilt, other or unused."""
    layout = make_layout(fixtures=[LANTERN, ("tilt", "other", "red")])
    harmful = {4, 5, 6, 7, 8}
    assert all(harmful.isdisjoint(raised) for raised in walk_through(show, layout))
    assert [raised for raised in walk_through(show, layout, strobe=True) if 4 in raised] == [
        {0: 255, 1: 255, 2: 255, 3: 255, 4: 255}
    ]
    moving = [set(raised) & harmful for raised in walk_through(show, layout, motion=True)]
    assert [raised for raised in moving if raised] == [{5}, {7}, {8}]


def test_the_value_is_that_of_the_channel_and_the_dimmer_is_full(make_layout: MakeLayout, show: Show):
    """A colour at 100 is seen at 100: its dimmer stands at full."""
    layout = make_layout(fixtures=[LANTERN])
    assert walk_through(show, layout, value=100)[1] == {0: 255, 1: 100}


def test_the_words_name_the_fixture_the_channel_and_the_caution(make_layout: MakeLayout, tell: Tell):
    """Channels count from 1; a dimmer that shows nothing and a strobe that flashes are told beforehand."""
    layout = make_layout(fixtures=[LANTERN, LAMP])
    assert tell("fixtures", layout, 0) == "lantern 1, channel 1 of 7: dimmer alone, so it stays dark"
    assert tell("fixtures", layout, 1) == "lantern 1, channel 2 of 7: red, with the dimmer"
    assert tell("fixtures", layout, 5) == "lantern 2, channel 2 of 2: white"
    assert "may flash" in tell("fixtures", layout, 4, strobe=True)
    assert tell("fixtures", make_layout(5)) == "no fixture channels to test"


def test_the_two_parameters_that_can_harm_say_so():
    """Strobe and motion carry a caution where they are chosen."""
    cautions = {param.name: param.sentence for param in get("fixtures").params}
    assert "Caution" in cautions["strobe"]
    assert "Caution" in cautions["motion"]
