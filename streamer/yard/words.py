"""Faults as text: the short form that is typed ("break:37"), and the words that are shown."""

import re
from collections.abc import Callable

from streamer.errors import PlanError, Problem
from streamer.yard.faults import (
    Break,
    DeadNode,
    Fault,
    Loss,
    NodeCount,
    Swapped,
    Turned,
    WrongOrder,
    WrongSlot,
    WrongUniverse,
    problem_of,
)

FORMS = (
    "break:37 (node 37 is the last that gets data; break:0, none does), dead:12, swapped:jetty/3, order:GRB, "
    "universe:+1, slot:-1, turned, nodes:90, loss:5 (percent)"
)
"""Every form, for a help text."""

WHOLE = re.compile(r"\d{1,5}", re.ASCII)
SIGNED = re.compile(r"[+-]\d{1,5}", re.ASCII)
SHARE = re.compile(r"\d{1,3}(\.\d{1,6})?", re.ASCII)
ORDER = re.compile(r"[A-Za-z]{3,4}")
PORT = re.compile(r".{1,100}")
NOTHING = re.compile("")

READERS: dict[str, tuple[re.Pattern[str], Callable[[str], Fault]]] = {
    "break": (WHOLE, lambda value: Break(after=int(value))),
    "dead": (WHOLE, lambda value: DeadNode(node=int(value))),
    "swapped": (PORT, lambda value: Swapped(port=value)),
    "order": (ORDER, lambda value: WrongOrder(colour_order=value.upper())),
    "universe": (SIGNED, lambda value: WrongUniverse(by=int(value))),
    "slot": (SIGNED, lambda value: WrongSlot(by=int(value))),
    "turned": (NOTHING, lambda _: Turned()),
    "nodes": (WHOLE, lambda value: NodeCount(nodes=int(value))),
    "loss": (SHARE, lambda value: Loss(percent=float(value))),
}


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


def text(fault: Fault) -> str:  # noqa: C901, PLR0911  one sentence for each kind is a table, not a tangle
    """Return a fault in words that follow a port's name: "breaks after node 37"."""
    match fault:
        case Break(after=0):
            return "breaks before its first node"
        case Break(after=after):
            return f"breaks after node {after}"
        case DeadNode(node=node):
            return f"node {node} is dead"
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
