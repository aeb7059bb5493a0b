"""The night as lanes from its beginning to its end: what was well when, for a terminal and for a picture."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import IntEnum

from streamer.report.night import Night, Tally
from streamer.soak.records import Event, EventKind, Severity

ALL_SHOWN, CONTROLLERS_SHOWN = 8, 24
"""Of more controllers than the first, those with something to tell, as many as the second."""
NETWORK = frozenset(
    {
        EventKind.LINK_DOWN,
        EventKind.ADDRESS_CHANGED,
        EventKind.INTERFACE_GONE,
        EventKind.NO_ROUTE,
        EventKind.OTHER_SOURCE,
    }
)
CONTROLLERS = frozenset({EventKind.CONTROLLER_GONE, EventKind.CONTROLLER_REBOOTED})
JOURNAL = frozenset({EventKind.JOURNAL_GAP, EventKind.DISK_FULL, EventKind.NOT_KEPT})


class Mark(IntEnum):
    """How a lane stood within a time; the worst counts."""

    UNWATCHED = 0
    WELL = 1
    REMARK = 2
    FAILURE = 3


@dataclass(frozen=True, slots=True)
class Lane:
    """One lane: the stream, the network, a controller, this machine, the journal."""

    name: str
    marks: tuple[Mark, ...]
    """One for each column, from the beginning."""


def lanes(night: Night, columns: int) -> tuple[Lane, ...]:
    """Return the lanes in so many columns."""
    return tuple(_lanes(night, columns))


def left_out(night: Night) -> str:
    """Return which controllers have no lane, as a sentence; empty where all have one."""
    shown, rest = len(_controllers(night)), len(night.run.facts.controllers)
    if rest == shown:
        return ""
    if shown < CONTROLLERS_SHOWN:
        return f"The other {rest - shown} controllers: nothing to tell."
    return f"{rest - shown} more controllers have no room here."


def _lanes(night: Night, columns: int) -> Iterator[Lane]:
    tallies = [_joined(night, column, columns) for column in range(columns)]
    watched = [any(each.watched_s for each in those) for those in tallies]
    rest = [e for e in night.events if e.kind not in NETWORK | CONTROLLERS | JOURNAL]

    def lane(name: str, events: Sequence[Event], bad: Sequence[bool] = ()) -> Lane:
        marks = [Mark.WELL if each else Mark.UNWATCHED for each in watched]
        for column, is_bad in enumerate(bad):
            if is_bad:
                marks[column] = Mark.REMARK
        for event in events:
            _draw(marks, event, night.length_s)
        return Lane(name, tuple(marks))

    lost = [any(each.lost for each in those) for those in tallies]
    yield lane("stream", rest, lost)
    yield lane("network", [e for e in night.events if e.kind in NETWORK])
    for name in _controllers(night):
        own = [e for e in night.events if e.kind in CONTROLLERS and e.subject == name]
        silent = [_is_silent(those, name) for those in tallies]
        drawn = lane(name, own, silent)
        asked = [any(each.answers[name].asked for each in those) for those in tallies]
        marks = zip(drawn.marks, asked, strict=True)
        yield Lane(name, tuple(m if a or m > Mark.WELL else Mark.UNWATCHED for m, a in marks))
    yield lane("journal", [e for e in night.events if e.kind in JOURNAL])


def _controllers(night: Night) -> list[str]:
    names = [each.name for each in night.run.facts.controllers]
    if len(names) <= ALL_SHOWN:
        return names
    told = {e.subject for e in night.events if e.kind in CONTROLLERS}
    silent = {name for name, a in night.whole.answers.items() if a.answered < a.asked}
    return [name for name in names if name in told | silent][:CONTROLLERS_SHOWN]


def _joined(night: Night, column: int, columns: int) -> Sequence[Tally]:
    """Return the bins that a column stands for: at least the one in its middle."""
    count = len(night.bins)
    first = column * count // columns
    return night.bins[first : max(first + 1, (column + 1) * count // columns)]


def _is_silent(tallies: Sequence[Tally], name: str) -> bool:
    return any(t.answers[name].answered < t.answers[name].asked for t in tallies)


def _draw(marks: list[Mark], event: Event, length_s: float) -> None:
    if event.severity is Severity.NOTICE or not length_s:
        return
    mark = Mark.FAILURE if event.severity is Severity.FAILURE else Mark.REMARK
    ended_s = event.ended_at.run_s if event.ended_at else length_s
    first = _column(event.began_at.run_s, length_s, len(marks))
    for column in range(first, _column(ended_s, length_s, len(marks)) + 1):
        marks[column] = max(marks[column], mark)


def _column(run_s: float, length_s: float, columns: int) -> int:
    return min(max(0, int(run_s / length_s * columns)), columns - 1)
