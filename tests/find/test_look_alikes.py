"""Faults that look alike unless the look is well chosen are told apart, by a robot at the yard."""

import pytest

from streamer.display.model import Addressing, Controller, Display, Port, Protocol, Segment
from streamer.find.kinds import Kind
from streamer.find.verdict import verdict_of
from streamer.yard.faults import (
    Break,
    DeadNode,
    Fault,
    NodeCount,
    OtherAddressing,
    Skipped,
    Swapped,
    WrongOrder,
    WrongSlot,
    WrongUniverse,
)
from tests.find.closed_loop import Lawn, search
from tests.find.conftest import bench_of, one_string


def long_string(addressing: Addressing, nodes: int = 400) -> Display:
    """Return a string over three universes."""
    port = Port(name="jetty/1", number=1, universe=1, segments=(Segment(nodes=nodes),))
    controller = Controller(
        name="jetty", protocol=Protocol.E131, address="127.0.0.1", addressing=addressing, ports=(port,)
    )
    return Display(name="jetty", controllers=(controller,))


def named(display: Display, *faults: Fault, port: str = "jetty/1") -> str:
    """Return the verdict's sentence after a search by the robot."""
    bench = bench_of(display, port)
    verdict = verdict_of(search(Lawn(display, bench, {port: list(faults)})))
    assert verdict.is_certain
    return verdict.sentence


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (WrongSlot(by=1), "starts 1 slot too late: at 2, not 1"),
        (WrongOrder(colour_order="BRG"), "take their colours as BRG, not RGB"),
        (WrongSlot(by=2), "starts 2 slots too late"),
        (WrongOrder(colour_order="GBR"), "take their colours as GBR"),
        (WrongSlot(by=-1), "starts 1 slot too early"),
    ],
)
def test_a_slipped_start_is_told_from_a_colour_order(fault: Fault, words: str):
    """On a solid fill start + 1 looks like BRG, start + 2 or - 1 like GBR, but for an end node (computed)."""
    assert words in named(one_string(50), fault)


@pytest.mark.parametrize("addressing", list(Addressing))
def test_packed_is_told_from_aligned(addressing: Addressing):
    """They differ from node 171 on, and then repeat every 170 nodes (computed)."""
    sentence = named(long_string(addressing), OtherAddressing())
    assert f"does not keep nodes {addressing}" in sentence


@pytest.mark.parametrize(("planned", "hung"), [("RGB", "RGBW"), ("RGBW", "RGB"), ("GRB", "GRBW")])
def test_three_slots_a_node_are_told_from_four(planned: str, hung: str):
    """Solid red repeats every three nodes or every four (computed)."""
    sentence = named(one_string(50, colour_order=planned), WrongOrder(colour_order=hung))
    assert f"as {hung}, not {planned}" in sentence


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (Skipped(by=1), "1 node more than planned lie"),
        (WrongSlot(by=3), "starts 3 slots too late"),
        (Break(after=30), "break between node 30 and 31"),
        (NodeCount(nodes=30), "has 30 nodes, not 50"),
        (NodeCount(nodes=77), "has 77 nodes, not 50"),
        (DeadNode(node=1), "node 1 is dead"),
    ],
)
def test_what_looks_alike_at_first_is_told_apart(fault: Fault, words: str):
    """A node skipped and a start three slots late; a break and a short string; a dead first node."""
    assert words.lower() in named(one_string(50), fault).lower()


def test_what_no_picture_can_tell_is_said_beside_the_verdict():
    """A dead last node is dark as after a break before it: the verdict names both."""
    display = one_string(50)
    bench = bench_of(display, "jetty/1")
    verdict = verdict_of(search(Lawn(display, bench, {"jetty/1": [DeadNode(node=50)]})))
    assert verdict.sentence.startswith("Break between node 49 and 50")
    same = [each.sentence for each in verdict.remains if each.looks_the_same]
    assert any(sentence.startswith("Node 50 is dead") for sentence in same)


def test_nothing_that_is_healthy_for_this_string_is_told_as_a_fault(sample: Display):
    """Packed and aligned are one for a string within a universe: no doubt is left of a healthy one."""
    bench = bench_of(sample, "boathouse/5")
    verdict = verdict_of(search(Lawn(sample, bench, {})))
    assert verdict.is_healthy
    assert not verdict.remains


def test_one_port_is_told_from_its_whole_controller(sample: Display):
    """The string beside says which: one listens too low, or all do."""
    bench = bench_of(sample, "boathouse/1")
    one = search(Lawn(sample, bench, {"boathouse/1": [WrongUniverse(by=-1)]}))
    names = [port.name for port in sample.controllers[0].ports]
    all_of_it = search(Lawn(sample, bench, {name: [WrongUniverse(by=-1)] for name in names}))
    assert verdict_of(one).row.kind is Kind.UNIVERSE
    assert verdict_of(all_of_it).row.kind is Kind.BASE


@pytest.mark.parametrize("other", ["boathouse/4", "lake/1"])
def test_a_swapped_string_is_found_on_its_port_and_a_break_on_it_too(sample: Display, other: str):
    """Of the same controller or another's; with a break as well, both are named."""
    bench = bench_of(sample, "boathouse/2")
    alone = verdict_of(search(Lawn(sample, bench, {"boathouse/2": [Swapped(port=other)]})))
    assert f"hangs on {other}" in alone.sentence
    assert not any("reak between" in each.sentence for each in alone.remains), "where no data goes anyway"
    faults: list[Fault] = [Swapped(port=other), Break(after=110)]
    both = verdict_of(search(Lawn(sample, bench, {"boathouse/2": faults})))
    assert f"hangs on {other}" in both.sentence
    assert "reak between node 110 and 109" in both.sentence
