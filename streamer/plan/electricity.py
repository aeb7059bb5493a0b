"""The power of a display as a plan tells it: plain numbers, one set of findings, every assumption named."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from streamer.display.model import Display
from streamer.plan.findings import Finding, Severity, places_text
from streamer.power.findings import Weight
from streamer.power.injection import METHOD
from streamer.power.loads import PortLoad
from streamer.power.plan import FeedPower, PortPower, PowerPlan, SupplyPower

RESTS = "This rests on what is taken for granted below"


@dataclass(frozen=True, slots=True)
class Lowest:
    """The lowest voltage of a string."""

    volts: float
    node: int
    """From 1, as they hang."""


@dataclass(frozen=True, slots=True)
class Carried:
    """What a feed or a supply carries, and may carry for hours."""

    name: str
    supply: str | None
    """Of a feed; None where it is assumed, or for a supply itself."""
    volts: float
    rated_a: float | None
    """A feed's fuse, or what a supply gives; None without a fuse."""
    limit_a: float | None
    """Of it for hours."""
    full_a: float
    level_a: float
    margin_a: float | None
    """What is left of the limit at the level; below 0 where it is exceeded."""
    now_a: float | None = None
    """Of the frame now being sent; None of feeds, and where none is known."""


@dataclass(frozen=True, slots=True)
class Inject:
    """More feeds that would keep every node above its minimum at full white."""

    after: tuple[int, ...]
    """Nodes counted from 1 at the end where data and power enter."""
    leads_m: tuple[float, ...]
    lead_wire: str
    lowest_volts: float
    """With them; where none suffice, the highest that any points that were tried would leave."""
    is_enough: bool
    """False where no points suffice: then none are told."""


@dataclass(frozen=True, slots=True)
class PortCurrent:
    """What one port draws, and what becomes of its voltage."""

    full_a: float
    """At full white."""
    level_a: float
    """At the level that is planned for, full white."""
    level_percent: float
    now_a: float | None = None
    """Of the frame now being sent; None where none is known."""
    volts_min: float | None = None
    """What its nodes need."""
    full_lowest: Lowest | None = None
    level_lowest: Lowest | None = None
    feeds: tuple[Carried, ...] = ()
    inject: Inject | None = None
    """None where no more feeds are advised."""
    assumptions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Totals:
    """All that the display draws."""

    level_percent: float
    full_a: float
    level_a: float
    now_a: float | None
    """Of the frame now being sent."""
    now: str
    """Why there is none, or whose frame it is, a sentence."""
    supplies: tuple[Carried, ...]


@dataclass(frozen=True, slots=True)
class Power:
    """What a plan takes in about power; by the ports' names."""

    currents: Mapping[str, PortCurrent] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
    assumptions: tuple[str, ...] = ()
    totals: Totals | None = None


def power_of(display: Display, plan: PowerPlan, now: str) -> Power:
    """Return a computed power plan in a plan's words; `now` says whose frame was given, or why none."""
    level = plan.level_percent
    return Power(
        {port.name: _current(port, level) for port in plan.ports},
        tuple(_findings(display, plan)),
        tuple(_assumptions(display, plan)),
        Totals(level, plan.white_a, plan.level_a, plan.now_a, now, tuple(map(_supply, plan.supplies))),
    )


def _current(port: PortPower, level_percent: float) -> PortCurrent:
    advice = port.advice
    return PortCurrent(
        port.white.amps,
        port.level.amps,
        level_percent,
        port.now.amps if port.now else None,
        port.basis.kind.volts_min,
        _lowest(port.white),
        _lowest(port.level),
        tuple(map(_feed, port.feeds)),
        Inject(advice.after, advice.leads_m, advice.lead_wire, advice.lowest_volts, advice.is_enough)
        if advice
        else None,
        port.assumptions,
    )


def _lowest(load: PortLoad) -> Lowest:
    return Lowest(load.lowest_volts, load.lowest_node)


def _feed(feed: FeedPower) -> Carried:
    margin_a = None if feed.limit_a is None else feed.limit_a - feed.level_a
    return Carried(
        feed.name,
        feed.supply,
        feed.volts,
        feed.fuse_a,
        feed.limit_a,
        feed.white_a,
        feed.level_a,
        margin_a,
    )


def _supply(supply: SupplyPower) -> Carried:
    return Carried(
        supply.name,
        None,
        supply.volts,
        supply.amps,
        supply.limit_a,
        supply.white_a,
        supply.level_a,
        supply.limit_a - supply.level_a,
        supply.now_a,
    )


def _findings(display: Display, plan: PowerPlan) -> Iterator[Finding]:
    """Yield what is wrong, alike ones together; a fault only where the file itself says what it rests on."""
    assumed = _assumed_places(display, plan)
    places: dict[tuple[Severity, str, str], list[str]] = {}
    for each in plan.findings:
        is_fault = each.weight is Weight.OVER and each.place not in assumed
        severity = Severity.FAULT if is_fault else Severity.WARNING
        rests = f". {RESTS}" if each.place in assumed else ""
        places.setdefault((severity, each.what, f"{each.instead}{rests}."), []).append(each.place)
    for (severity, what, instead), names in places.items():
        yield Finding(severity, places_text(names), what, instead)


def _assumed_places(display: Display, plan: PowerPlan) -> set[str]:
    """Return the feeds, ports and supplies whose load is reckoned with an assumed node or wire."""
    unsaid = {port.name for port in display.ports if not (port.node_kind and port.wire)}
    feeds = [feed for port in plan.ports if port.name in unsaid for feed in port.feeds]
    return {each for feed in feeds for each in (feed.name, feed.supply) if each} | unsaid


def _assumptions(display: Display, plan: PowerPlan) -> Iterator[str]:
    ports: dict[str, list[str]] = {}
    for port in plan.ports:
        for sentence in port.assumptions:
            ports.setdefault(sentence, []).append(port.name)
    for sentence, names in ports.items():
        yield f"{places_text(names)}: {sentence}."
    for sentence in plan.assumptions:
        yield f"{sentence[:1].upper()}{sentence[1:]}."
    if any(controller.fixtures for controller in display.controllers):
        yield "Fixtures have mains or supplies of their own: no current of theirs is counted."
    if any(port.advice for port in plan.ports):
        yield f"Where to inject: {METHOD}."
