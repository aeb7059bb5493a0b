"""Faults as text: the short form that is typed ("break:37"), and the words that are shown."""

import re
from collections.abc import Callable

from streamer.errors import PlanError, Problem
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
    problem_of,
)

FORMS = (
    "break:37 (node 37 is the last that gets data; break:0, none does), dead:12, colour:12-red, "
    "stuck:12-white, flicker:37 (from there on), swapped:jetty/3, order:GRB, universe:+1, slot:-1, "
    "skipped:+2, addressing, turned, nodes:90, grouped:3, loss:5 (percent)"
)
"""Every form, for a help text."""

WHOLE = re.compile(r"\d{1,5}", re.ASCII)
SIGNED = re.compile(r"[+-]\d{1,5}", re.ASCII)
AT_A_NODE = re.compile(r"\d{1,5}-[a-z]{3,5}", re.ASCII)
SHARE = re.compile(r"\d{1,3}(\.\d{1,6})?", re.ASCII)
ORDER = re.compile(r"[A-Za-z]{3,4}")
PORT = re.compile(r".{1,100}")
NOTHING = re.compile("")

READERS: dict[str, tuple[re.Pattern[str], Callable[[str], Fault]]] = {
    "break": (WHOLE, lambda value: Break(after=int(value))),
    "dead": (WHOLE, lambda value: DeadNode(node=int(value))),
    "colour": (AT_A_NODE, lambda value: DeadColour.model_validate(_at_a_node(value, "light"))),
    "stuck": (AT_A_NODE, lambda value: StuckNode.model_validate(_at_a_node(value, "colour"))),
    "flicker": (WHOLE, lambda value: Flicker(node=int(value))),
    "skipped": (SIGNED, lambda value: Skipped(by=int(value))),
    "grouped": (WHOLE, lambda value: Grouped(lights=int(value))),
    "addressing": (NOTHING, lambda _: OtherAddressing()),
    "swapped": (PORT, lambda value: Swapped(port=value)),
    "order": (ORDER, lambda value: WrongOrder(colour_order=value.upper())),
    "universe": (SIGNED, lambda value: WrongUniverse(by=int(value))),
    "slot": (SIGNED, lambda value: WrongSlot(by=int(value))),
    "turned": (NOTHING, lambda _: Turned()),
    "nodes": (WHOLE, lambda value: NodeCount(nodes=int(value))),
    "loss": (SHARE, lambda value: Loss(percent=float(value))),
}


def _at_a_node(value: str, key: str) -> dict[str, object]:
    node, _, colour = value.partition("-")
    return {"node": int(node), key: colour}


def parse_fault(written: str) -> Fault:
    """Read the short form of a fault; PlanError with the list of forms for anything else."""
    kind, _, value = written.strip().partition(":")
    if kind in READERS:
        pattern, read = READERS[kind]
        if pattern.fullmatch(value):
            try:
                fault = read(value)
            except ValueError as error:  # pydantic's: the number is outside the field's range
                raise _unreadable(written) from error
            if wrong := problem_of(fault):
                raise PlanError([Problem(f"fault {written!r}", *wrong)])
            return fault
    raise _unreadable(written)


def _unreadable(written: str) -> PlanError:
    return PlanError([Problem(f"fault {written!r}", "is none that the yard knows", f"Write one of: {FORMS}")])


def text(fault: Fault) -> str:  # noqa: C901, PLR0911, PLR0912  one sentence for each kind is a table, not a tangle
    """Return a fault in words that follow a port's name: "breaks after node 37"."""
    match fault:
        case Break(after=0):
            return "breaks before its first node"
        case Break(after=after):
            return f"breaks after node {after}"
        case DeadNode(node=node):
            return f"node {node} is dead"
        case DeadColour(node=node, light=light):
            return f"node {node} has no {light}"
        case StuckNode(node=node, colour=colour):
            return f"node {node} always shows {colour}"
        case Flicker(node=node):
            return f"flickers from node {node} on"
        case Skipped(by=by):
            return f"{abs(by)} node{'' if abs(by) == 1 else 's'} {'more' if by > 0 else 'fewer'} before it"
        case Grouped(lights=lights):
            return f"{lights} lights act as one"
        case OtherAddressing():
            return "packed and aligned are mixed up"
        case Swapped(port=port):
            return f"swapped with {port}"
        case WrongOrder(colour_order=order):
            return f"its nodes take {order}"
        case WrongUniverse(by=by):
            return f"listens {_off_by(by, 'universe', 'high', 'low')}"
        case WrongSlot(by=by):
            return f"starts {_off_by(by, 'slot', 'late', 'early')}"
        case Turned():
            return "fed from its other end"
        case NodeCount(nodes=nodes):
            return f"has {nodes} node{'' if nodes == 1 else 's'}"
        case Loss(percent=percent):
            return f"loses {percent:.10g} % of its packets"


def _off_by(by: int, unit: str, above: str, below: str) -> str:
    return f"{abs(by)} {unit}{'' if abs(by) == 1 else 's'} too {above if by > 0 else below}"
