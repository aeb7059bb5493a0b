"""The faults that can be asked of the yard: their names, and the one number or word that each needs."""

import random
from collections.abc import Callable
from dataclasses import dataclass

from streamer.display.model import SLOTS_PER_UNIVERSE, Port
from streamer.errors import PlanError
from streamer.yard.faults import Fault
from streamer.yard.words import parse_fault

SLOTS_OFF, UNIVERSES_OFF, NODES_OFF, SKIPPED_MOST, GROUPED_MOST = 6, 1, 10, 6, 4
"""How far a surprise is off at the most."""
LOSS_LOW, LOSS_HIGH = 5, 60
ORDERS = ("RGB", "RBG", "GRB", "GBR", "BRG", "BGR")
LIGHTS = {"R": "red", "G": "green", "B": "blue", "W": "white"}
STUCK_AT = ("red", "green", "blue", "white")
SIGNED = frozenset({"universe", "slot", "skipped"})
Draw = Callable[[Port, random.Random], str]


@dataclass(frozen=True, slots=True)
class FaultKind:
    """A kind of fault, by the yard's own short word for it."""

    word: str
    label: str
    sentence: str
    usual: Draw
    """Draws a value with which the fault is seen on a port; "" where the kind needs none."""
    form: str = "Nothing is to be typed."
    """What is to be typed, for whoever typed something else."""
    is_seen: Callable[[Port], bool] = lambda _port: True
    """Whether this port's lights show the fault in a picture that stands still."""

    def make(self, text: str) -> Fault:
        """Return the fault for what was typed; ValueError with what to type instead."""
        text = text.strip()
        if self.word in SIGNED and text[:1] not in {"+", "-"}:
            text = f"+{text}"
        try:
            return parse_fault(f"{self.word}:{text}" if text else self.word)
        except PlanError as error:
            raise ValueError(self.form) from error


def _node(port: Port, chance: random.Random) -> str:
    return str(chance.randint(1, port.nodes))


def _of_a_node(port: Port, chance: random.Random) -> str:
    return f"{_node(port, chance)}-{LIGHTS[chance.choice(port.colour_order)]}"


def _stuck(port: Port, chance: random.Random) -> str:
    return f"{_node(port, chance)}-{chance.choice(STUCK_AT)}"


def _other_order(port: Port, chance: random.Random) -> str:
    white = port.colour_order[len(ORDERS[0]) :] and "W"
    colours = port.colour_order.replace("W", "")
    return chance.choice([order for order in ORDERS if order != colours]) + white


def _slots_off(_port: Port, chance: random.Random) -> str:
    return f"{chance.choice('+-')}{chance.randint(1, SLOTS_OFF)}"


def _universes_off(port: Port, chance: random.Random) -> str:
    # There is nothing below the first universe.
    return f"{chance.choice('+-') if port.universe > 1 else '+'}{UNIVERSES_OFF}"


def _other_count(port: Port, chance: random.Random) -> str:
    off = chance.randint(1, NODES_OFF)
    return str(port.nodes - off if off < port.nodes and chance.choice((True, False)) else port.nodes + off)


def _skipped(port: Port, chance: random.Random) -> str:
    fewer = [-each for each in range(1, port.skip + 1)]
    return f"{chance.choice([*fewer, *range(1, SKIPPED_MOST + 1)]):+d}"


def _has_several(port: Port) -> bool:
    return port.nodes > 1


def _crosses_a_universe(port: Port) -> bool:
    """Return whether a node would be split at a universe's end: there packed and aligned part."""
    width, before = len(port.colour_order), port.slot - 1
    room = SLOTS_PER_UNIVERSE - before
    return (port.skip + port.nodes) * width > room and room % width != 0


A_NODE, WITH_SIGN = "Type a node, such as 12.", "Type a number with its sign, such as +2 or -2."
KINDS = (
    FaultKind(
        "break", "break", "No data beyond this node; 0 is none at all.",
        lambda port, chance: str(chance.randrange(port.nodes)), A_NODE,
    ),
    FaultKind("dead", "dead node", "This node stays dark, the data goes on.", _node, A_NODE),
    FaultKind(
        "colour", "dead colour", "One colour of this node stays dark.", _of_a_node,
        "Type a node and red, green, blue or white, such as 12-red.",
    ),
    FaultKind(
        "stuck", "stuck node", "This node always shows that, whatever is sent.", _stuck,
        "Type a node and red, green, blue or white, such as 12-white.",
    ),
    FaultKind("flicker", "flicker", "From this node on it flickers.", _node, A_NODE),
    FaultKind("turned", "turned", "Fed from its other end.", lambda _port, _chance: "", is_seen=_has_several),
    FaultKind(
        "order", "colour order", "The nodes take their colours in this order.", _other_order,
        "Type each of R, G and B once, and W if there is white, such as GRB.",
    ),
    FaultKind(
        "nodes", "node count", "The string has this many nodes.", _other_count, "Type a number, such as 90."
    ),
    FaultKind(
        "universe", "universe", "Listens so many universes too high, or with a minus too low.",
        _universes_off, WITH_SIGN,
    ),
    FaultKind(
        "slot", "slot", "Starts so many slots too late, or with a minus too early.",
        _slots_off, WITH_SIGN,
    ),
    FaultKind(
        "skipped", "skipped", "So many nodes more than planned lie before the string.", _skipped, WITH_SIGN
    ),
    FaultKind(
        "grouped", "grouped", "So many lights act as one node.",
        lambda _port, chance: str(chance.randint(2, GROUPED_MOST)),
        "Type a number from 2 to 100.", _has_several,
    ),
    FaultKind(
        "addressing", "addressing",
        "Splits nodes at a universe's end where they were to be kept whole, or the reverse.",
        lambda _port, _chance: "", is_seen=_crosses_a_universe,
    ),
    FaultKind(
        "swapped", "swapped", "Hangs on this other port.", lambda _port, _chance: "", "Type a port's name."
    ),
    FaultKind(
        "loss", "loss", "This share of the packets is lost, in percent.",
        lambda _port, chance: str(chance.randint(LOSS_LOW, LOSS_HIGH)), "Type 0 to 100.",
        # Each packet that does arrive says the same: no search among still pictures could find it.
        lambda _port: False,
    ),
)  # fmt: skip


def surprise(ports: tuple[Port, ...], chance: random.Random) -> tuple[Port, Fault]:
    """Return a fault that nobody has been told of, for one of the ports (at least one).

    It is one that the port's lights show in a picture that stands still.
    """
    kind = chance.choice(
        [
            each
            for each in KINDS
            if any(map(each.is_seen, ports)) and (len(ports) > 1 or each.word != "swapped")
        ]
    )
    port = chance.choice([each for each in ports if kind.is_seen(each)])
    others = [each.name for each in ports if each.name != port.name]
    text = chance.choice(others) if kind.word == "swapped" else kind.usual(port, chance)
    return port, kind.make(text)
