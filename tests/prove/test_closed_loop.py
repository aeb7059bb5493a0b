"""A robot that sees only the yard's lights walks the display: the right string is at fault, no other."""

from datetime import datetime

import pytest

from streamer.display.model import Controller, Display, Port, Protocol, Segment
from streamer.display.sample import sample_display
from streamer.prove.noted import NotedWalk
from streamer.prove.walk import Proof
from streamer.yard.yard import Yard
from tests.prove.conftest import Pages, Stage, told, yard_of
from tests.prove.robot import Robot


def walked(plan: Display, yard: Yard, pages: Pages, at: datetime) -> NotedWalk:
    """Walk through the plan before this yard, to the end."""
    noted, stage, robot = NotedWalk(plan, pages), Stage(yard, plan), Robot(yard, plan)
    while check := noted.walk.current:
        stage.show(check.look)
        noted.answer(robot.key(told(check)), at)
    return noted


def names(noted: NotedWalk, proof: Proof) -> set[str]:
    """Return what stands so."""
    return {subject.name for subject, each in noted.walk.proofs.items() if each is proof}


def test_a_healthy_display_is_proven_whole(pages: Pages, at: datetime):
    """Every string and fixture of both protocols, aligned and packed, reversed, skipped, RGB and RGBW."""
    display = sample_display()
    noted = walked(display, yard_of(display), pages, at)
    assert set(noted.walk.proofs.values()) == {Proof.PROVEN}
    assert len(noted.walk.proofs) == len(display.ports) + 2
    assert not noted.walk.remarks


FAULTS = [
    ("boathouse/1", "break:20"),
    ("boathouse/3", "dead:30"),
    ("boathouse/2", "order:GRB"),
    ("lake/1", "order:RGBW"),
    ("boathouse/5", "universe:-1"),
    ("boathouse/2", "slot:+1"),
    ("lake/3", "turned"),
    ("boathouse/1", "nodes:83"),
]
"""One of each kind."""
MORE_FAULTS = [
    ("boathouse/1", "break:0"),
    ("boathouse/2", "break:60"),
    ("boathouse/3", "dead:1"),
    ("boathouse/4", "dead:113"),
    ("boathouse/1", "order:RGB"),
    ("lake/1", "order:GRB"),
    ("lake/2", "order:RGBW"),
    ("boathouse/1", "universe:+1"),
    ("boathouse/2", "universe:+40"),
    ("lake/3", "universe:+1"),
    ("boathouse/3", "slot:-1"),
    ("boathouse/1", "slot:+3"),
    ("lake/2", "slot:-3"),
    ("boathouse/2", "turned"),
    ("boathouse/4", "nodes:112"),
    ("lake/3", "nodes:100"),
]


@pytest.mark.parametrize(
    ("port", "fault"), [*FAULTS, *(pytest.param(*each, marks=pytest.mark.slow) for each in MORE_FAULTS)]
)
def test_a_fault_is_found_on_its_own_string_and_on_no_other(
    port: str, fault: str, pages: Pages, at: datetime
):
    """Whatever else lights up along with it."""
    display = sample_display()
    noted = walked(display, yard_of(display, **{port.replace("/", "_"): [fault]}), pages, at)
    assert names(noted, Proof.AT_FAULT) == {port}
    assert names(noted, Proof.NOT_LOOKED_AT) == set()


@pytest.mark.parametrize(("port", "other"), [("boathouse/1", "boathouse/2"), ("boathouse/5", "lake/3")])
def test_two_strings_that_are_swapped_are_both_at_fault(port: str, other: str, pages: Pages, at: datetime):
    """On one controller, or between two."""
    display = sample_display()
    noted = walked(display, yard_of(display, **{port.replace("/", "_"): [f"swapped:{other}"]}), pages, at)
    assert names(noted, Proof.AT_FAULT) == {port, other}


@pytest.mark.parametrize(
    ("nodes", "colour_order"),
    [(1, "RGB"), (2, "GRB"), (5, "RGB"), (9, "BRG"), (10, "RGB"), (15, "GRBW"), (16, "RGBW")],
)
def test_a_string_too_short_for_the_blocks_is_proven_by_one_colour_at_a_time(
    nodes: int, colour_order: str, pages: Pages, at: datetime
):
    """And its colour order is found out all the same."""
    display = single(nodes, colour_order)
    assert set(walked(display, yard_of(display), pages, at).walk.proofs.values()) == {Proof.PROVEN}
    other = f"order:{colour_order[1]}{colour_order[0]}{colour_order[2:]}"
    faulty = walked(display, yard_of(display, jetty_1=[other]), Pages(), at)
    assert names(faulty, Proof.AT_FAULT) == {"jetty/1"}


def single(nodes: int, colour_order: str = "RGB") -> Display:
    """Return a display of one string."""
    port = Port(
        name="jetty/1", number=1, universe=7, colour_order=colour_order, segments=(Segment(nodes=nodes),)
    )
    jetty = Controller(name="jetty", protocol=Protocol.E131, address="127.0.0.1", ports=(port,))
    return Display(name="Jetty", controllers=(jetty,))


def test_a_string_over_many_universes_is_proven_and_its_last_universe_is_probed(pages: Pages, at: datetime):
    """1,000 nodes are six universes of 170 nodes; a break in the last is found."""
    display = single(1_000)
    assert set(walked(display, yard_of(display), pages, at).walk.proofs.values()) == {Proof.PROVEN}
    faulty = walked(display, yard_of(display, jetty_1=["break:990"]), Pages(), at)
    assert names(faulty, Proof.AT_FAULT) == {"jetty/1"}


def test_a_fixture_that_starts_at_another_slot_is_at_fault_and_the_strings_are_not(
    pages: Pages, at: datetime
):
    """The flood at the boat door is planned at slot 33, and set to slot 34."""
    plan = sample_display()
    boathouse = plan.controllers[0]
    flood = boathouse.fixtures[0].model_copy(update={"slot": 34})
    hung = boathouse.model_copy(update={"fixtures": (flood,)})
    yard = yard_of(plan.model_copy(update={"controllers": (hung, *plan.controllers[1:])}))
    noted = walked(plan, yard, pages, at)
    assert names(noted, Proof.AT_FAULT) == {"Flood, boat door"}


def test_a_string_that_lights_along_is_told_of_and_does_not_condemn_the_other(pages: Pages, at: datetime):
    """boathouse/1 listens one universe too high: it lights with boathouse/2, which is right itself."""
    display = sample_display()
    noted = walked(display, yard_of(display, boathouse_1=["universe:+1"]), pages, at)
    assert "boathouse/2" in {each.subject.name for each in noted.walk.remarks}
    assert "boathouse/2" in names(noted, Proof.PROVEN)
