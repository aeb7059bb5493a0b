"""Practising on the yard: faults that are given, hidden, revealed and healed; marks that tell the truth."""

import random

import pytest

from streamer.display.model import Controller, Display, Port, Protocol, Segment
from streamer.yard.faults import (
    Break,
    DeadColour,
    Fault,
    StuckNode,
    Turned,
    WrongSlot,
    WrongUniverse,
    check_faults,
)
from streamer.yard.messages import SetFaults
from streamer.yard.words import READERS
from tests.tui import fakes
from tests.tui.stage import Open
from tui.compare import DIFFERS, MOVING, MOVING_LOOKS, SAME, STILL_LOOKS, UNKNOWN, Comparison
from tui.fault_kinds import KINDS, surprise
from tui.rows import StringRow, string_rows


def _controller(ports: tuple[Port, ...]) -> Controller:
    return Controller(name="a", protocol=Protocol.E131, address="127.0.0.1", ports=ports)


async def test_a_fault_is_given_to_the_port_looked_at(opened: Open):
    """f, a kind, Enter: the yard gets that fault on that port."""
    async with opened(has_yard=True) as stage:
        await stage.pilot.press("down", "f")
        await stage.until(lambda: "A fault for the yard" in stage.text)
        await stage.pilot.press("down", "1", "7", "enter")
        await stage.until(lambda: bool(stage.yard.asked))
        assert stage.yard.asked == [SetFaults(port="jetty/2", faults=(Break(after=17),))]


async def test_a_fault_that_cannot_be_is_told(opened: Open):
    """A break after 'x' is refused on the sheet; nothing is asked of the yard."""
    async with opened(has_yard=True) as stage:
        await stage.pilot.press("f")
        await stage.until(lambda: "A fault for the yard" in stage.text)
        await stage.pilot.press("down", "x", "enter")
        await stage.until(lambda: "! " in stage.text)
        assert stage.yard.asked == []


async def test_faults_are_shown_only_when_asked(opened: Open):
    """One may practise without knowing: r reveals, r hides, h heals."""
    async with opened(has_yard=True) as stage:
        await stage.start()
        stage.yard.shine(fakes.walking(stage.display, 3), faults=("breaks after node 19",))
        stage.engine.shine(fakes.walking(stage.display, 3), (0, 0, 0, 0))
        await stage.until(lambda: stage.app.talk.arrivals is not None)
        assert "breaks after" not in stage.text
        await stage.pilot.press("r")
        await stage.until(lambda: "breaks after node 19" in stage.text)
        await stage.pilot.press("r")
        await stage.until(lambda: "breaks after" not in stage.text)
        await stage.pilot.press("h")
        assert stage.yard.asked == [SetFaults(port="jetty/1", faults=())]


async def test_a_surprise_is_one_hidden_fault(opened: Open):
    """U gives some port some fault and says only that there is one."""
    async with opened(has_yard=True) as stage:
        await stage.pilot.press("u")
        await stage.until(lambda: bool(stage.yard.asked))
        assert len(stage.yard.last(SetFaults).faults) == len(stage.yard.asked) == 1
        told = " ".join(notice.message for notice in stage.app._notifications)
        assert not [port.name for port in stage.display.ports if port.name in told]


async def test_without_a_yard_there_is_nothing_to_fault(opened: Open):
    """The yard's keys do nothing and are not in the palette."""
    async with opened() as stage:
        await stage.pilot.press("f", "u", "r", "h")
        assert len(stage.app.screen_stack) == 1
        assert "Surprise" not in " ".join(
            each.title for each in stage.app.get_system_commands(stage.app.screen)
        )


async def test_a_yard_that_vanishes_leaves_the_rest_standing(opened: Open):
    """The arrivals go, the engine stays."""
    async with opened(has_yard=True) as stage:
        await stage.start()
        stage.yard.vanish()
        await stage.until(lambda: "The yard has gone" in stage.text)
        await stage.pilot.press("right")
        await stage.until(lambda: "In hand" in stage.text)


@pytest.mark.parametrize("seed", range(40))
def test_every_surprise_is_a_fault_that_can_be(seed: int):
    """Whatever is drawn is valid for its port: even for one node, even for one port."""
    chance = random.Random(seed)  # noqa: S311  a surprise, not a secret
    ports = (Port(name="a/1", number=1, universe=1, segments=(Segment(nodes=1),)),)
    port, fault = surprise(ports, chance)
    assert port is ports[0]
    check_faults(Display(name="a", controllers=(_controller(ports),)), "a/1", [fault])
    assert fault.kind not in {"swapped", "turned", "grouped", "addressing"}


def test_every_fault_of_the_yard_can_be_given_and_all_that_are_seen_be_a_surprise():
    """None that the yard knows is missing, and each that can be seen is drawn sooner or later."""
    display, chance = fakes.boathouse(), random.Random(1)  # noqa: S311
    drawn = set()
    for _ in range(400):
        port, fault = surprise(display.ports, chance)
        check_faults(display, port.name, [fault])
        drawn.add(fault.kind)
    assert {kind.word for kind in KINDS} == set(READERS)
    # Of these strings none has a node that a universe's end would split; no still picture shows lost packets.
    assert drawn == set(READERS) - {"addressing", "loss"}


def test_packed_against_aligned_is_a_surprise_where_a_universe_would_split_a_node():
    """512 slots hold 170 RGB nodes and two slots more (ANSI E1.11: 512 slots): the 171st is split, or not."""
    split = fakes.port("a/1", 1, 1, 171)
    kind = next(each for each in KINDS if each.word == "addressing")
    assert kind.is_seen(split)
    assert not kind.is_seen(fakes.port("a/1", 1, 1, 170))
    assert not kind.is_seen(fakes.port("a/1", 1, 1, 200, order="RGBW"))


@pytest.mark.parametrize(
    ("word", "typed", "made"),
    [
        ("universe", "1", WrongUniverse(by=1)),
        ("slot", "-2", WrongSlot(by=-2)),
        ("colour", "12-red", DeadColour(node=12, light="red")),
        ("stuck", "3-white", StuckNode(node=3, colour="white")),
    ],
)
def test_what_is_typed_is_read_with_and_without_a_plus(word: str, typed: str, made: Fault):
    """A number alone is one too high; a node and its colour go together."""
    assert next(kind for kind in KINDS if kind.word == word).make(typed) == made


def test_what_cannot_be_read_says_what_to_type():
    """In the words of this kind alone."""
    kind = next(kind for kind in KINDS if kind.word == "colour")
    with pytest.raises(ValueError, match="such as 12-red"):
        kind.make("red")


async def test_reveal_names_the_port_and_its_fault(opened: Open):
    """Wherever the row of arrivals is hidden for want of room, the words say it."""
    async with opened(has_yard=True) as stage:
        stage.yard.shine(fakes.walking(stage.display, 3), faults=("breaks after node 19",))
        await stage.until(lambda: stage.app.talk.arrivals is not None)
        await stage.pilot.press("r")
        await stage.until(lambda: bool(stage.app._notifications))
        assert [each.message for each in stage.app._notifications] == ["jetty/1: breaks after node 19"]


def test_a_turned_string_needs_no_number():
    """The kind without a value makes its fault from anything."""
    assert next(kind for kind in KINDS if kind.label == "turned").make("") == Turned()


class TestComparison:
    """Marks are only given where looking now and then can tell."""

    @pytest.fixture
    def rows(self) -> tuple[StringRow, ...]:
        """Return the strings of the boathouse."""
        return string_rows(fakes.boathouse())

    def test_a_still_string_is_judged(self, rows: tuple[StringRow, ...]):
        """Standing still, equal is = and unequal is ≠ with the number of nodes."""
        comparison, sent = Comparison(rows), fakes.walking(fakes.boathouse(), 5)
        arrived = sent.copy()
        arrived[0:3, 1] = 9
        for _ in range(STILL_LOOKS + 1):
            comparison.look(sent, arrived)
        assert comparison.marks == [DIFFERS, SAME, SAME, SAME, SAME, SAME]
        assert comparison.counts[0] == 3

    def test_a_moving_string_is_not_accused(self, rows: tuple[StringRow, ...]):
        """Two looks at moving light are not of one moment: no ≠, but ~ in time."""
        comparison, display = Comparison(rows), fakes.boathouse()
        for step in range(MOVING_LOOKS + 2):
            comparison.look(fakes.walking(display, step % 60), fakes.walking(display, (step + 1) % 60))
            assert DIFFERS not in comparison.marks
            assert step or set(comparison.marks) == {UNKNOWN}
        assert comparison.marks[0] == MOVING

    def test_the_white_of_a_node_without_one_is_no_difference(self, rows: tuple[StringRow, ...]):
        """RGB nodes ignore the fourth component (patterns.plain.Frame); RGBW nodes do not."""
        comparison, sent = Comparison(rows), fakes.walking(fakes.boathouse(), 5)
        arrived = sent.copy()
        arrived[:, 3] = 50
        for _ in range(STILL_LOOKS + 1):
            comparison.look(sent, arrived)
        assert comparison.marks == [SAME] * 5 + [DIFFERS]
