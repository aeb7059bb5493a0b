"""What a port's currents and voltages are reckoned from: what the file says, and what is assumed otherwise.

Every assumption is a sentence that a plan must show: none is made in silence.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from streamer.display.electrics import COLOURS_MOST, Drive, Injection, NodeKind, Supply, Wire
from streamer.display.model import Display, Port, Segment
from streamer.display.node_kinds import node_kind_of

Floats = NDArray[np.float64]

ASSUMED_MA = 20.0
ASSUMED_IDLE_MA = 1.0
"""60 mA of an RGB node and 80 mA of an RGBW node at full white are upper planning values; the driver's own
current is about 1 mA. Common practice, no source."""
ASSUMED_VOLTS = 5.0
"""The lower of the two usual voltages: of it, the same drop is the larger part."""
ASSUMED_MIN_SHARE = 0.9
"""A tenth less than nominal: common practice, no source."""
ASSUMED_WIRE = Wire(awg=20)
"""Of strings as they are sold: common practice, no source."""
ASSUMED_SPACING_M = 0.1
"""Common practice, no source."""
MM_PER_M = 1000


@dataclass(frozen=True, slots=True)
class Feed:
    """Where a supply's current enters a string."""

    name: str
    """ "jetty/1", or "jetty/1 after node 50"."""
    after: int
    """0 at the string's beginning, else the injection's node, counted from the end that is fed."""
    supply: str | None
    """None where it is assumed."""
    volts: float
    fuse_a: float | None
    lead_m: float
    wire: Wire
    is_cut: bool = False
    """Whether the string's positive is cut after that node, and only what follows is fed here."""


@dataclass(frozen=True, slots=True)
class Basis:
    """One port with everything that its circuit is made of, said or assumed."""

    port: Port
    kind: NodeKind
    wire: Wire
    spacings_m: Floats
    """(skip + nodes,): before each node on the line, the first being the way from where the lead ends."""
    feeds: tuple[Feed, ...]
    assumptions: tuple[str, ...] = ()

    @property
    def full_ma(self) -> Floats:
        """Of red, green, blue and white, (4,): 0 for a white that the string has not."""
        has_white = len(self.port.colour_order) == COLOURS_MOST
        return np.array([*self.kind.full_ma[:3], self.kind.full_ma[3] if has_white else 0.0])


@dataclass(slots=True)
class _Assumed:
    """Sentences gathered while a basis is made."""

    sentences: list[str] = field(default_factory=list)

    def say(self, sentence: str) -> None:
        self.sentences.append(sentence)


def basis_of(display: Display, port: Port) -> Basis:
    """Return the basis of a port of a checked display."""
    assumed = _Assumed()
    supply = _supply(display, port.supply)
    kind = node_kind_of(display, port) or _assume_kind(supply, assumed)
    wire = port.wire or _assume_wire(assumed)
    return Basis(
        port,
        kind,
        wire,
        _spacings_m(port, assumed),
        tuple(_feeds(display, port, kind, wire, assumed)),
        tuple(assumed.sentences),
    )


def _supply(display: Display, name: str | None) -> Supply | None:
    return next((supply for supply in display.supplies if supply.name == name), None)


def _assume_kind(supply: Supply | None, assumed: _Assumed) -> NodeKind:
    volts = supply.volts if supply else ASSUMED_VOLTS
    assumed.say(
        f"no node_kind: {volts:g} V constant-current nodes of {ASSUMED_MA:g} mA a colour and "
        f"{ASSUMED_IDLE_MA:g} mA idle that need {volts * ASSUMED_MIN_SHARE:g} V (common practice, no source)"
    )
    return NodeKind(
        name="assumed",
        drive=Drive.CONSTANT_CURRENT,
        volts=volts,
        volts_min=volts * ASSUMED_MIN_SHARE,
        full_ma=(ASSUMED_MA,) * COLOURS_MOST,
        idle_ma=ASSUMED_IDLE_MA,
    )


def _assume_wire(assumed: _Assumed) -> Wire:
    assumed.say(f"no wire: the string's own is {ASSUMED_WIRE.text} (common practice, no source)")
    return ASSUMED_WIRE


def _spacings_m(port: Port, assumed: _Assumed) -> Floats:
    hung = np.concatenate([np.full(each.nodes, _spacing_m(each)) for each in port.segments])
    if np.isnan(hung).any():
        assumed.say(f"no spacing: nodes are {ASSUMED_SPACING_M:g} m apart (common practice, no source)")
    known = np.where(np.isnan(hung), ASSUMED_SPACING_M, hung)
    on_line = known[::-1] if port.reversed else known
    return np.concatenate([np.full(port.skip, on_line[0]), on_line])


def _spacing_m(segment: Segment) -> float:
    """Return the distance from node to node; not a number where the segment says neither it nor its ends."""
    if segment.spacing_mm:
        return segment.spacing_mm / MM_PER_M
    if segment.start is not None and segment.end is not None and segment.nodes > 1:
        between_m = float(np.linalg.norm(np.subtract(segment.end, segment.start))) / (segment.nodes - 1)
        return between_m or np.nan
    return np.nan


def _feeds(display: Display, port: Port, kind: NodeKind, wire: Wire, assumed: _Assumed) -> Iterator[Feed]:
    supply = _supply(display, port.supply)
    volts = supply.volts if supply else kind.volts
    if supply is None:
        assumed.say(f"no supply: one of {volts:g} V that gives whatever is drawn, and no fuse")
    if port.lead is None:
        assumed.say("no lead: the supply is one spacing before the first node, and its lead costs nothing")
    yield Feed(
        port.name,
        0,
        supply.name if supply else None,
        volts,
        port.fuse_a,
        port.lead.length_m if port.lead else 0.0,
        port.lead.wire if port.lead else wire,
    )
    for injection in port.injections:
        yield _injected(display, port, injection, volts, assumed)


def _injected(display: Display, port: Port, injection: Injection, volts: float, assumed: _Assumed) -> Feed:
    supply = _supply(display, injection.supply or port.supply)
    name = f"{port.name} after node {injection.after}"
    is_cut = injection.is_positive_cut
    if is_cut is None:
        is_other = (supply.name if supply else None) != port.supply
        is_cut = is_other and injection.after < port.nodes
        if is_other:
            cut = "is cut there" if is_cut else "goes on there"
            assumed.say(f"{name}: another supply, and no positive_cut: the positive {cut}")
    return Feed(
        name,
        injection.after,
        supply.name if supply else None,
        supply.volts if supply else volts,
        injection.fuse_a,
        injection.lead.length_m,
        injection.lead.wire,
        is_cut,
    )
