"""The faults that can be asked of the yard: their names, and the one number or word that each needs."""

import random
from collections.abc import Callable
from dataclasses import dataclass

from streamer.display.model import Port
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
)

PERCENT = 100
SLOTS_OFF = 8
UNIVERSES_OFF = 3
LOSS_LOW, LOSS_HIGH = 5, 60
SHORTER_BY = 2
ORDERS = ("RGB", "RBG", "GRB", "GBR", "BRG", "BGR")


@dataclass(frozen=True, slots=True)
class FaultKind:
    """A kind of fault; `make` builds one for a port from a number, `choices` or a word instead of it."""

    label: str
    sentence: str
    make: Callable[[str], Fault]
    usual: Callable[[Port, random.Random], str]
    """A value that makes the fault be seen on this port; "" where it needs none."""


def _other_order(port: Port, chance: random.Random) -> str:
    white = port.colour_order[len(ORDERS[0]) :] and "W"
    colours = port.colour_order.replace("W", "")
    return chance.choice([order for order in ORDERS if order != colours]) + white


KINDS = (
    FaultKind(
        "break", "No data beyond this node.",
        lambda text: Break(after=int(text)), lambda port, chance: str(chance.randrange(port.nodes)),
    ),
    FaultKind(
        "dead node", "This node stays dark, the data goes on.",
        lambda text: DeadNode(node=int(text)), lambda port, chance: str(chance.randint(1, port.nodes)),
    ),
    FaultKind("turned", "Fed from its other end.", lambda _text: Turned(), lambda _port, _chance: ""),
    FaultKind(
        "colour order", "The nodes take their colours in this order.",
        lambda text: WrongOrder(colour_order=text.upper()), _other_order,
    ),
    FaultKind(
        "node count", "The string has this many nodes.",
        lambda text: NodeCount(nodes=int(text)),
        lambda port, chance: str(max(1, port.nodes - chance.randint(1, SHORTER_BY))),
    ),
    FaultKind(
        "universe", "Listens so many universes too high.",
        lambda text: WrongUniverse(by=int(text)), lambda _port, chance: str(chance.randint(1, UNIVERSES_OFF)),
    ),
    FaultKind(
        "slot", "Starts so many slots too late.",
        lambda text: WrongSlot(by=int(text)), lambda _port, chance: str(chance.randint(1, SLOTS_OFF)),
    ),
    FaultKind(
        "swapped", "Hangs on this other port.", lambda text: Swapped(port=text), lambda _port, _chance: ""
    ),
    FaultKind(
        "loss", "This share of the packets is lost, in percent.",
        lambda text: Loss(percent=float(text)),
        lambda _port, chance: str(chance.randint(LOSS_LOW, LOSS_HIGH)),
    ),
)  # fmt: skip


def surprise(ports: tuple[Port, ...], chance: random.Random) -> tuple[Port, Fault]:
    """Return a fault that nobody has been told of, for one of the ports (at least one)."""
    port = chance.choice(ports)
    others = [each.name for each in ports if each.name != port.name]
    kind = chance.choice([each for each in KINDS if others or each.label != "swapped"])
    text = chance.choice(others) if kind.label == "swapped" else kind.usual(port, chance)
    return port, kind.make(text)
