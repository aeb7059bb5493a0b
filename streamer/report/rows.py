"""The rows of the report's tables, the same in a terminal, on the page and in Markdown."""

from typing import NamedTuple

from streamer.report.night import Night
from streamer.report.times import clock_text, length_text
from streamer.soak.records import Event, EventKind, Severity

EVENTS_TOLD = 200
"""Of more, how many there were is said; `--json` has them all."""
UNNAMED = "none in the display file"


class EventRow(NamedTuple):
    """One event as a person reads it."""

    at: str
    """By the clock on the wall."""
    length: str
    """Empty for what has none."""
    what: str
    words: str
    severity: Severity


class ControllerRow(NamedTuple):
    """One controller through the night."""

    name: str
    answered: str
    away: str
    restarts: str
    round_trip: str


class SupplyRow(NamedTuple):
    """One supply through the night."""

    name: str
    most: str
    limit: str
    share: str


def event_rows(night: Night) -> tuple[EventRow, ...]:
    """Return the events in order; steps of the programme as planned are left out."""
    told = [e for e in night.events if e.kind is not EventKind.STEP or e.severity is not Severity.NOTICE]
    return tuple(_event_row(each, night) for each in told[:EVENTS_TOLD])


def _event_row(event: Event, night: Night) -> EventRow:
    length_s = event.length_s
    if length_s is None:
        length = "not over" if night.run.ended is None else "to the end"
    else:
        length = length_text(length_s) if length_s else ""
    what = f"{event.kind}: {event.subject}" if event.subject else event.kind.value
    at = clock_text(event.began_at.unix_s, night.run.facts.utc_offset_minutes)
    return EventRow(at, length, what, event.words, event.severity)


def controller_rows(night: Night) -> tuple[ControllerRow, ...]:
    """Return every controller, in the display's order."""
    return tuple(_controller_row(each.name, night) for each in night.run.facts.controllers)


def _controller_row(name: str, night: Night) -> ControllerRow:
    answers = night.whole.answers[name]
    gone = [e for e in night.events if e.kind is EventKind.CONTROLLER_GONE and e.subject == name]
    away_s = sum((e.ended_at or night.run.last_at).run_s - e.began_at.run_s for e in gone)
    restarts = sum(e.kind is EventKind.CONTROLLER_REBOOTED and e.subject == name for e in night.events)
    share = answers.share
    return ControllerRow(
        name,
        "never asked" if share is None else f"{_percent(share)} of {answers.asked:,}",
        f"{len(gone)} x, {length_text(away_s)}" if gone else "never",
        str(restarts) if restarts else "none",
        "" if answers.round_trip_ms is None else f"{answers.round_trip_ms:.1f} ms",
    )


def supply_rows(night: Night) -> tuple[SupplyRow, ...]:
    """Return what the frames called for of each supply, where the display file says who feeds what."""
    told = night.whole.supplies_a.items()
    return tuple(_supply_row(name, amps, night) for name, amps in told if amps is not None)


def _supply_row(name: str, amps: float, night: Night) -> SupplyRow:
    limit_a = night.run.facts.supply_limits_a.get(name)
    if not limit_a:
        return SupplyRow(name or UNNAMED, f"{amps:.2f} A", "not known", "")
    return SupplyRow(name, f"{amps:.2f} A", f"{limit_a:.2f} A", f"{amps / limit_a:.0%}".replace("%", " %"))


def _percent(share: float) -> str:
    """Return a share so that only all is 100 %."""
    return "100 %" if share == 1 else f"{min(share * 100, 99.99):.2f} %"
