"""What the page for the lid says of power: a row for each feed of a controller's strings, its supplies."""

from collections.abc import Iterator
from dataclasses import dataclass

from streamer.display.electrics import Injection, Lead
from streamer.display.model import Controller, Display, Port
from streamer.plan.electricity import Carried, Inject, Totals
from streamer.plan.report import ControllerPlan, StringPlan

AT_BEGINNING = "its beginning"


@dataclass(frozen=True, slots=True)
class FeedRow:
    """One feed of a string, or what is advised for it."""

    number: int
    """Of the port."""
    is_first: bool
    """Of that port's rows."""
    place: str
    lead: str
    """ "2 m, 16 AWG", as it was written; empty where the file does not say."""
    feed: Carried | None
    """None where no current was worked out, or where this row is advice."""
    advice: Inject | None = None
    """More feeds for that port."""


@dataclass(frozen=True, slots=True)
class SupplyRow:
    """One supply that feeds this controller's strings."""

    supply: Carried
    elsewhere: tuple[str, ...]
    """Other controllers whose strings it feeds too."""


def feed_rows(plan: ControllerPlan, controller: Controller) -> list[FeedRow]:
    """Return the rows of a controller's strings, in order, what is advised after what there is."""
    return [
        row
        for string, port in zip(plan.strings, controller.ports, strict=True)
        for row in _rows(string, port)
    ]


def supply_rows(totals: Totals | None, controller: Controller, display: Display) -> list[SupplyRow]:
    """Return the supplies that feed a controller's strings; none where no current was worked out."""
    if totals is None:
        return []
    ours = _supplies_of(controller)
    others = [(each.name, _supplies_of(each)) for each in display.controllers if each is not controller]
    return [
        SupplyRow(supply, tuple(name for name, theirs in others if supply.name in theirs))
        for supply in totals.supplies
        if supply.name in ours
    ]


def _rows(string: StringPlan, port: Port) -> Iterator[FeedRow]:
    feeds = _feeds(port)
    current = string.current
    carried = current.feeds if current and current.feeds else (None,) * len(feeds)
    for nth, (feed, carries) in enumerate(zip(feeds, carried, strict=True)):
        place = f"after node {feed.after}" if isinstance(feed, Injection) else AT_BEGINNING
        yield FeedRow(string.number, not nth, place, _lead(feed.lead), carries)
    if current and current.inject:
        yield FeedRow(string.number, is_first=False, place="", lead="", feed=None, advice=current.inject)


def _lead(lead: Lead | None) -> str:
    return lead.text if lead else ""


def _supplies_of(controller: Controller) -> frozenset[str]:
    feeds = [feed for port in controller.ports for feed in _feeds(port)]
    return frozenset(feed.supply for feed in feeds if feed.supply)


def _feeds(port: Port) -> tuple[Port | Injection, ...]:
    return (port, *port.injections)
