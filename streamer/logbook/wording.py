"""The logbook's sentences, the same on the screen, on paper and in a terminal. Names as plain text."""

from datetime import datetime

from streamer.display.places import plain
from streamer.logbook.records import Entry, Kind, Sort, Verdict
from streamer.logbook.standing import Standing, Standings, State

WHEN = "%Y-%m-%d %H:%M"
NEXT = {
    State.FAULT: "find the fault, mend it, log it as fixed, prove it again",
    State.FIXED: "prove it again",
    State.CHANGED: "prove it again",
    State.UNSEEN: "prove it",
}


def when(at: datetime) -> str:
    """Return a moment by the clock on the wall then, with its offset: "2026-11-28 18:04 +01:00"."""
    offset = at.isoformat(timespec="seconds")[-len("+00:00") :]
    return f"{at.strftime(WHEN)} {offset}"


def name(standing: Standing) -> str:
    """Return how a string or fixture is called: "jetty/2, Rail"."""
    told = plain(standing.subject.name)
    return f"{told}, {plain(standing.label)}" if standing.label else told


def event(entry: Entry, *, is_again: bool = False) -> str:
    """Return what an entry says: "at fault: order: the same blocks in other colours"."""
    words = plain(entry.words)
    match entry.kind:
        case Kind.ANSWER if entry.verdict is Verdict.PROVEN:
            return "proven again" if is_again else "proven"
        case Kind.ANSWER:
            return f"{entry.verdict or 'looked at'}: {plain(entry.look)}: {plain(entry.answer)}"
        case Kind.FOUND:
            return f"found: {words}"
        case Kind.FIXED:
            return f"fixed: {words}"
        case Kind.NOTE:
            return f"note: {words}"
        case _:
            return entry.kind.value


def events(standing: Standing) -> tuple[tuple[str, str], ...]:
    """Return the history: when, and what."""
    told, has_been_open = [], False
    for entry in standing.history:
        told.append((when(entry.at), event(entry, is_again=has_been_open)))
        has_been_open |= entry.verdict is Verdict.FAULT or entry.kind is Kind.FIXED
    return tuple(told)


def why(standing: Standing) -> str:
    """Return why it stands as it does, where the history does not say it: what has changed in the file."""
    return f"the display file has changed: {plain('; '.join(standing.changes))}" if standing.changes else ""


def summary(standings: Standings) -> str:
    """Return the display in one line: "Boathouse: 8 strings and 2 fixtures: 7 proven, 1 at fault, ..."."""
    strings = sum(each.subject.sort is Sort.STRING for each in standings.all)
    fixtures = len(standings.all) - strings
    what = _counted(strings, "string") + (f" and {_counted(fixtures, 'fixture')}" if fixtures else "")
    states = (State.PROVEN, State.FAULT, State.FIXED, State.CHANGED, State.UNSEEN)
    counts = [f"{count} {state}" for state in states if (count := standings.count(state))]
    return f"{plain(standings.display)}: {what}. {', '.join(counts).capitalize() or 'Nothing planned'}."


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"
