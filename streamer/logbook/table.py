"""The logbook for other programs: CSV that is safe to open in a spreadsheet, and JSON."""

import csv
import io
from collections.abc import Iterable
from typing import Any

from streamer.display.places import plain
from streamer.logbook.records import Entry, Kind
from streamer.logbook.standing import Standing, Standings, State
from streamer.logbook.wording import events, why

HEADER = (
    "entry",
    "when",
    "what",
    "about",
    "name",
    "label",
    "look",
    "question",
    "answer",
    "verdict",
    "words",
    "undone",
)
OPEN_HEADER = ("about", "name", "label", "state", "since", "why")
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
"""A cell that begins so is a formula to a spreadsheet (OWASP, CSV Injection)."""
HARMLESS = "'"
"""A spreadsheet takes what follows as text."""


def entries_csv(entries: Iterable[Entry]) -> str:
    """Return every entry, the undone ones marked, as CSV (RFC 4180)."""
    kept = tuple(entries)
    slips = {entry.undoes for entry in kept if entry.kind is Kind.UNDONE}
    return _csv(HEADER, ([*_cells(entry), "yes" if entry.number in slips else ""] for entry in kept))


def punch_list_csv(standings: Standings) -> str:
    """Return the punch list as CSV (RFC 4180)."""
    return _csv(
        OPEN_HEADER,
        (
            [*each.subject, each.label, each.state, _since(each) or "", why(each) or _last_event(each)]
            for each in standings.punch_list
        ),
    )


def as_dict(standings: Standings, file: str, *, only_open: bool) -> dict[str, Any]:
    """Return how everything stands, or what is open, as JSON can say it."""
    shown = standings.punch_list if only_open else standings.all
    return {
        "file": file,
        "display": standings.display,
        "counts": {state.value: standings.count(state) for state in State},
        "strings": [_dict(each) for each in shown],
        "gone": [] if only_open else [_dict(each) for each in standings.gone],
    }


def _dict(standing: Standing) -> dict[str, Any]:
    return {
        "about": standing.subject.sort.value,
        "name": standing.subject.name,
        "label": standing.label,
        "state": standing.state.value,
        "since": _since(standing),
        "changes": list(standing.changes),
        "history": [
            {
                "entry": entry.number,
                "when": entry.at.isoformat(timespec="seconds"),
                "what": entry.kind.value,
                "look": entry.look,
                "question": entry.question,
                "answer": entry.answer,
                "verdict": entry.verdict and entry.verdict.value,
                "words": entry.words,
            }
            for entry in standing.history
        ],
    }


def _since(standing: Standing) -> str | None:
    return standing.since.at.isoformat(timespec="seconds") if standing.since else None


def _last_event(standing: Standing) -> str:
    told = events(standing)
    return told[-1][1] if told else ""


def _cells(entry: Entry) -> list[str]:
    return [
        str(entry.number),
        entry.at.isoformat(timespec="seconds"),
        entry.kind.value,
        entry.sort.value,
        entry.name,
        entry.label,
        entry.look,
        entry.question,
        entry.answer,
        entry.verdict or "",
        entry.words,
    ]


def _csv(header: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    written = io.StringIO()
    writer = csv.writer(written)
    writer.writerow(header)
    writer.writerows([[_safe(cell) for cell in row] for row in rows])
    return written.getvalue()


def _safe(cell: str) -> str:
    return HARMLESS + plain(cell) if cell.startswith(FORMULA) else plain(cell)
