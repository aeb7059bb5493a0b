"""Faults that a port of the yard can be given, as plain values, and which of them a display allows.

Nodes count from 1 in the order in which they hang, as a person counts them, from whichever end they are fed.
Faults of the string (break, dead, colour, stuck, order, turned, nodes, skipped, grouped, flicker) stay with
it when it is swapped to another port.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import islice
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from streamer.display.model import COLOUR_ORDERS, SLOTS_PER_UNIVERSE, Display
from streamer.errors import PlanError, Problem
from streamer.wire.e131 import UNIVERSE_MAX


class FaultBase(BaseModel):
    """A frozen fault; unknown keys are errors."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Break(FaultBase):
    """Nothing beyond this node gets data: beyond it as the data runs, so towards node 1 if fed at the end."""

    kind: Literal["break"] = "break"
    after: Annotated[int, Field(ge=0)]
    """The last node that gets data; 0 is none."""


class DeadNode(FaultBase):
    """One node stays dark; the data goes on past it."""

    kind: Literal["dead"] = "dead"
    node: Annotated[int, Field(ge=1)]


class DeadColour(FaultBase):
    """One colour of one node stays dark."""

    kind: Literal["colour"] = "colour"
    node: Annotated[int, Field(ge=1)]
    light: Literal["red", "green", "blue", "white"]


class StuckNode(FaultBase):
    """One node shows one colour whatever is sent (white is red, green and blue); data goes on past it."""

    kind: Literal["stuck"] = "stuck"
    node: Annotated[int, Field(ge=1)]
    colour: Literal["red", "green", "blue", "white"] = "white"


class Skipped(FaultBase):
    """So many more nodes than planned (or, negative, fewer) lie between the port and the string."""

    kind: Literal["skipped"] = "skipped"
    by: Annotated[int, Field(ge=-100, le=100)]


class Grouped(FaultBase):
    """So many lights act as one node."""

    kind: Literal["grouped"] = "grouped"
    lights: Annotated[int, Field(ge=2, le=100)]


class Flicker(FaultBase):
    """The data is marginal: from this node on, as the data runs, nodes are dark now and then."""

    kind: Literal["flicker"] = "flicker"
    node: Annotated[int, Field(ge=1)]


class OtherAddressing(FaultBase):
    """The controller splits nodes at a universe's end where they were to be kept whole, or the reverse."""

    kind: Literal["addressing"] = "addressing"


class Swapped(FaultBase):
    """The string hangs on this other port, and that one's string on this."""

    kind: Literal["swapped"] = "swapped"
    port: str


class WrongOrder(FaultBase):
    """The nodes take their colours in this order; three letters or four, whatever the plan has."""

    kind: Literal["order"] = "order"
    colour_order: str


class WrongUniverse(FaultBase):
    """The controller listens this many universes too high (or, negative, too low)."""

    kind: Literal["universe"] = "universe"
    by: int


class WrongSlot(FaultBase):
    """The controller starts this many slots too late (or, negative, too early)."""

    kind: Literal["slot"] = "slot"
    by: int


class Turned(FaultBase):
    """The string is fed from its other end than planned."""

    kind: Literal["turned"] = "turned"


class NodeCount(FaultBase):
    """The string has this many nodes, not the planned number; the controller drives as many as there are."""

    kind: Literal["nodes"] = "nodes"
    nodes: Annotated[int, Field(ge=1, le=10_000)]


class Loss(FaultBase):
    """This share of packets is lost before the controller, by a seeded draw."""

    kind: Literal["loss"] = "loss"
    percent: Annotated[float, Field(ge=0, le=100)]


Fault = Annotated[
    Break
    | DeadNode
    | DeadColour
    | StuckNode
    | Swapped
    | WrongOrder
    | WrongUniverse
    | WrongSlot
    | Turned
    | NodeCount
    | Skipped
    | Grouped
    | Flicker
    | OtherAddressing
    | Loss,
    Field(discriminator="kind"),
]


AT_A_NODE = (DeadNode, DeadColour, StuckNode)
"""Faults of single nodes: a string may have several."""
PORTS_TOLD = 12
"""More names than this are no help in a message."""


def problem_of(fault: Fault) -> tuple[str, str] | None:
    """Return what is wrong with a fault wherever it is put, and what to do instead."""
    match fault:
        case WrongOrder(colour_order=order) if order not in COLOUR_ORDERS:
            return "is no colour order", "Use each of R, G, B once, and W once if the nodes have white"
        case WrongUniverse(by=by) if not 1 <= abs(by) <= UNIVERSE_MAX:
            instead = f"Use -{UNIVERSE_MAX} to +{UNIVERSE_MAX} without 0"
            return "is off by nothing, or by more than there is", instead
        case WrongSlot(by=by) if not 1 <= abs(by) < SLOTS_PER_UNIVERSE:
            most = SLOTS_PER_UNIVERSE - 1
            return "is off by nothing, or by more than a universe", f"Use -{most} to +{most} without 0"
        case Skipped(by=0):
            return "is no node more and none fewer", "Use a number of nodes, such as +2"
    return None


def check_faults(display: Display, name: str, faults: Sequence[Fault]) -> None:
    """Raise PlanError, with everything that is wrong, unless port `name` can have the faults."""
    ports = {port.name: port for port in display.ports}
    if name not in ports:
        raise PlanError([Problem(name, "is no port of this display", _choices(ports))])
    wrong = [Problem(f"{name}, {fault.kind}", *found) for fault in faults if (found := problem_of(fault))]
    kinds = Counter(fault.kind for fault in faults if not isinstance(fault, AT_A_NODE))
    wrong += [
        Problem(f"{name}, {kind}", "is given more than once", "Give it once")
        for kind, times in kinds.items()
        if times > 1
    ]
    most = next((fault.nodes for fault in faults if isinstance(fault, NodeCount)), ports[name].nodes)
    for fault in faults:
        match fault:
            case (
                Break(after=node)
                | DeadNode(node=node)
                | DeadColour(node=node)
                | StuckNode(node=node)
                | Flicker(node=node)
            ) if node > most:
                wrong.append(
                    Problem(f"{name}, {fault.kind}", f"there is no node {node}", f"Use up to {most}")
                )
            case Skipped(by=by) if ports[name].skip + by < 0:
                what = f"only {ports[name].skip} are planned to lie before the string"
                wrong.append(Problem(f"{name}, skipped", what, "Use a number above 0, or one nearer to it"))
            case Swapped(port=other) if other not in ports or other == name:
                others = [each for each in ports if each != name]
                instead = _choices(others) if others else "This display has only one port"
                wrong.append(Problem(f"{name}, swapped", f"{other!r} is no other port", instead))
    if wrong:
        raise PlanError(wrong)


def _choices(ports: Iterable[str]) -> str:
    told = list(islice(ports, PORTS_TOLD + 1))
    return f"Choose one of {', '.join(told[:PORTS_TOLD])}{', ...' if len(told) > PORTS_TOLD else ''}"
