"""The power of a display as a plan shows it: every port, every supply, what is assumed, what is wrong."""

from dataclasses import dataclass

import numpy as np

from patterns.plain import Bytes
from streamer.display.model import Display
from streamer.power.basis import Basis
from streamer.power.copper import Copper
from streamer.power.findings import Finding, findings
from streamer.power.injection import InjectionAdvice, advise
from streamer.power.loads import Load, Loads, PortLoad
from streamer.power.margins import CONTINUOUS_WORDS, fuse_limit_a, supply_limit_a

FULL_PERCENT = 100
KNOWN_LIMIT = 1000
_known: dict[tuple[object, ...], InjectionAdvice | None] = {}
"""Kept from plan to plan: a display is planned again at every level, and the search takes half a second."""


@dataclass(frozen=True, slots=True)
class FeedPower:
    """One feed of a port."""

    name: str
    supply: str | None
    """None where it is assumed."""
    volts: float
    fuse_a: float | None
    limit_a: float | None
    """What it may carry for hours; None without a fuse."""
    level_a: float
    white_a: float


@dataclass(frozen=True, slots=True)
class PortPower:
    """One port at the level, at full white, and as it shines now."""

    name: str
    basis: Basis
    """The kind of its nodes, its wires, its feeds."""
    level: PortLoad
    white: PortLoad
    now: PortLoad | None
    """Of the frame given, if one was."""
    feeds: tuple[FeedPower, ...]
    advice: InjectionAdvice | None
    """None where every node has its minimum at full white."""
    assumptions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SupplyPower:
    """One supply."""

    name: str
    volts: float
    amps: float
    limit_a: float
    level_a: float
    white_a: float
    now_a: float | None


@dataclass(frozen=True, slots=True)
class PowerPlan:
    """The power of a display."""

    level_percent: float
    level_a: float
    white_a: float
    now_a: float | None
    ports: tuple[PortPower, ...]
    supplies: tuple[SupplyPower, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[str, ...]
    """Of the whole display; each port has its own besides."""


def power_plan(
    display: Display, level_percent: float, nodes: Bytes | None = None, copper: Copper | None = None
) -> PowerPlan:
    """Return the power of a checked display, and of a frame's nodes, (N, 4) octets, if there is one."""
    loads = Loads(display, copper)
    level, white = loads.of_white(level_percent), loads.of_white(FULL_PERCENT)
    now = None if nodes is None else loads.of_frame(nodes)
    advices = _advices(loads)
    return PowerPlan(
        level_percent,
        level.amps,
        white.amps,
        now.amps if now else None,
        tuple(_port(loads, row, level, white, now, advices[row]) for row in range(len(loads.bases))),
        tuple(_supply(loads, row, level, white, now) for row in range(len(display.supplies))),
        tuple(findings(loads, level, white)),
        (loads.copper.words, CONTINUOUS_WORDS),
    )


def _port(  # noqa: PLR0913, PLR0917  three loads of one port
    loads: Loads, row: int, level: Load, white: Load, now: Load | None, advice: InjectionAdvice | None
) -> PortPower:
    basis = loads.bases[row]
    feeds = tuple(
        FeedPower(
            feed.name,
            feed.supply,
            feed.volts,
            feed.fuse_a,
            None if feed.fuse_a is None else fuse_limit_a(feed.fuse_a),
            level.ports[row].feed_a[nth],
            white.ports[row].feed_a[nth],
        )
        for nth, feed in enumerate(basis.feeds)
    )
    return PortPower(
        basis.port.name,
        basis,
        level.ports[row],
        white.ports[row],
        now.ports[row] if now else None,
        feeds,
        advice,
        basis.assumptions,
    )


def _supply(loads: Loads, row: int, level: Load, white: Load, now: Load | None) -> SupplyPower:
    supply = loads.display.supplies[row]
    return SupplyPower(
        supply.name,
        supply.volts,
        supply.amps,
        supply_limit_a(supply),
        level.supply_a[row],
        white.supply_a[row],
        now.supply_a[row] if now else None,
    )


def _advices(loads: Loads) -> list[InjectionAdvice | None]:
    """Return the advice of each port; strings that are alike are looked at once, and remembered."""
    advices = []
    for basis in loads.bases:
        feeds = tuple((feed.after, feed.volts, feed.lead_m, feed.wire, feed.is_cut) for feed in basis.feeds)
        colours = len(basis.port.colour_order)
        alike = (
            loads.copper,
            basis.kind,
            basis.wire,
            np.round(basis.spacings_m, 9).tobytes(),
            basis.port.skip,
            colours,
            feeds,
        )
        if alike not in _known:
            if len(_known) >= KNOWN_LIMIT:
                _known.clear()
            _known[alike] = advise(basis, loads.copper)
        advices.append(_known[alike])
    return advices
