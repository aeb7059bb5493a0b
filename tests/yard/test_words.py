"""Faults as text: what is typed is read, and the words are plain."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.display.model import COLOUR_ORDERS
from streamer.errors import PlanError
from streamer.yard.faults import (
    Break,
    DeadColour,
    DeadNode,
    Fault,
    Flicker,
    Grouped,
    Loss,
    NodeCount,
    OtherAddressing,
    Skipped,
    StuckNode,
    Swapped,
    Turned,
    WrongOrder,
    WrongSlot,
    WrongUniverse,
)
from streamer.yard.words import parse_fault, text
from tests.yard.bench import Bench, jetty, port

TABLE = [
    ("break:37", Break(after=37), "breaks after node 37"),
    ("break:0", Break(after=0), "breaks before its first node"),
    ("dead:12", DeadNode(node=12), "node 12 is dead"),
    ("colour:12-red", DeadColour(node=12, light="red"), "node 12 has no red"),
    ("stuck:3-white", StuckNode(node=3, colour="white"), "node 3 always shows white"),
    ("flicker:37", Flicker(node=37), "flickers from node 37 on"),
    ("skipped:+2", Skipped(by=2), "2 nodes more before it"),
    ("skipped:-1", Skipped(by=-1), "1 node fewer before it"),
    ("grouped:3", Grouped(lights=3), "3 lights act as one"),
    ("addressing", OtherAddressing(), "packed and aligned are mixed up"),
    ("swapped:jetty/3", Swapped(port="jetty/3"), "swapped with jetty/3"),
    ("order:GRB", WrongOrder(colour_order="GRB"), "its nodes take GRB"),
    ("universe:+1", WrongUniverse(by=1), "listens 1 universe too high"),
    ("universe:-2", WrongUniverse(by=-2), "listens 2 universes too low"),
    ("slot:+3", WrongSlot(by=3), "starts 3 slots too late"),
    ("slot:-1", WrongSlot(by=-1), "starts 1 slot too early"),
    ("turned", Turned(), "fed from its other end"),
    ("nodes:90", NodeCount(nodes=90), "has 90 nodes"),
    ("nodes:1", NodeCount(nodes=1), "has 1 node"),
    ("loss:5", Loss(percent=5), "loses 5 % of its packets"),
    ("loss:0.25", Loss(percent=0.25), "loses 0.25 % of its packets"),
]


@pytest.mark.parametrize(("form", "fault", "words"), TABLE, ids=[row[0] for row in TABLE])
def test_each_form_is_read_and_said(form: str, fault: Fault, words: str):
    """One row for each kind of fault and each turn of phrase."""
    assert parse_fault(form) == fault
    assert text(fault) == words


@given(
    st.one_of(
        st.builds(lambda node: (f"break:{node}", Break(after=node)), st.integers(0, 10_000)),
        st.builds(lambda node: (f"dead:{node}", DeadNode(node=node)), st.integers(1, 10_000)),
        st.builds(
            lambda by: (f"universe:{by:+}", WrongUniverse(by=by)), st.integers(-63999, 63999).filter(bool)
        ),
        st.builds(lambda by: (f"slot:{by:+}", WrongSlot(by=by)), st.integers(-511, 511).filter(bool)),
        st.builds(lambda count: (f"nodes:{count}", NodeCount(nodes=count)), st.integers(1, 10_000)),
        st.builds(lambda tenths: (f"loss:{tenths / 10}", Loss(percent=tenths / 10)), st.integers(0, 1000)),
        st.builds(
            lambda order: (f"order:{order.lower()}", WrongOrder(colour_order=order)),
            st.sampled_from(sorted(COLOUR_ORDERS)),
        ),
    )
)
def test_every_fault_that_can_be_is_read_as_it_is_typed(typed: tuple[str, Fault]):
    """Every number in its range, and every colour order in either case."""
    form, fault = typed
    assert parse_fault(form) == fault


@pytest.mark.parametrize(
    "written",
    [
        "",
        "break",
        "break:",
        "break:x",
        "break:-1",
        "break:999999999999",
        "dead:0",
        "order:RGG",
        "order:RG",
        "universe:1",
        "universe:+0",
        "universe:+64000",
        "slot:+512",
        "nodes:0",
        "nodes:10001",
        "loss:101",
        "loss:5%",
        "loss:nan",
        "turned:1",
        "swapped:",
        "melted",
        "colour:12",
        "colour:12-pink",
        "colour:0-red",
        "stuck:12-RED",
        "flicker:0",
        "skipped:2",
        "skipped:+0",
        "skipped:+101",
        "grouped:1",
        "addressing:packed",
        "break:\u0663",
    ],
)
def test_anything_else_is_refused_with_what_to_write(written: str):
    """The refusal quotes what was written and is no traceback."""
    with pytest.raises(PlanError) as refusal:
        parse_fault(written)
    (problem,) = refusal.value.problems
    assert repr(written) in problem.place
    assert problem.instead.startswith(("Write one of: break:37", "Use "))


@pytest.mark.parametrize(
    ("name", "faults", "words"),
    [
        ("jetty/9", [], "jetty/9: is no port of this display. Choose one of jetty/1, jetty/2"),
        ("jetty/1", [Break(after=6)], "there is no node 6. Use up to 5"),
        ("jetty/1", [NodeCount(nodes=3), DeadNode(node=4)], "there is no node 4. Use up to 3"),
        ("jetty/1", [StuckNode(node=6)], "there is no node 6. Use up to 5"),
        ("jetty/1", [DeadColour(node=6, light="red")], "there is no node 6"),
        ("jetty/1", [Flicker(node=6)], "there is no node 6"),
        ("jetty/1", [Skipped(by=-1)], "only 0 are planned to lie before the string"),
        ("jetty/1", [Turned(), Turned()], "jetty/1, turned: is given more than once. Give it once"),
        ("jetty/1", [Swapped(port="jetty/1")], "'jetty/1' is no other port. Choose one of jetty/2"),
        ("jetty/1", [Swapped(port="pier/1")], "'pier/1' is no other port"),
        ("jetty/1", [WrongOrder(colour_order="RRR")], "is no colour order"),
        ("jetty/1", [WrongSlot(by=10**40)], "is off by nothing, or by more than a universe"),
    ],
)
def test_a_port_refuses_faults_that_it_cannot_have(name: str, faults: list[Fault], words: str):
    """The refusal says where, what and what instead, and the port stays as it was."""
    bench = Bench(jetty([port(1, 5, 1), port(2, 5, 2)]))
    bench.set_faults(1, DeadNode(node=2))
    with pytest.raises(PlanError) as refusal:
        bench.yard.set_faults(name, faults)
    assert words in str(refusal.value)
    assert bench.seen(1).faults == ("node 2 is dead",)
