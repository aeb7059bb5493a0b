"""Practising on the yard: faults that are given, hidden, revealed and healed; marks that tell the truth."""

import random

import pytest

from streamer.display.model import Port, Segment
from streamer.yard.faults import Break, Turned
from streamer.yard.messages import SetFaults
from tests.tui import fakes
from tests.tui.stage import Open
from tui.compare import DIFFERS, MOVING, MOVING_LOOKS, SAME, STILL_LOOKS, UNKNOWN, Comparison
from tui.fault_kinds import KINDS, surprise
from tui.rows import StringRow, string_rows


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
        assert [len(each.faults) for each in stage.yard.asked] == [1]
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
    assert fault.kind in {"break", "dead", "turned", "order", "nodes", "universe", "slot", "loss"}


def test_a_turned_string_needs_no_number():
    """The kind without a value makes its fault from anything."""
    assert next(kind for kind in KINDS if kind.label == "turned").make("") == Turned()


class TestComparison:
    """Marks are only given where looking now and then can tell."""

    @pytest.fixture
    def rows(self):
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
