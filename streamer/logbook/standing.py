"""How each string and fixture stands now, by the logbook and the display file. Pure.

A proof rests on what the display file said then: where that has changed since, it no longer holds.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from streamer.display.model import Display
from streamer.logbook.fingerprint import changes, fingerprints, labels
from streamer.logbook.records import ALL, Entry, Fingerprint, Kind, Subject, Verdict, standing_entries


class State(StrEnum):
    """How a string or fixture stands; in the order of a punch list, the most urgent first."""

    FAULT = "at fault"
    FIXED = "fixed but not proven again"
    CHANGED = "proof no longer holds"
    UNSEEN = "not looked at"
    PROVEN = "proven"


@dataclass(frozen=True, slots=True)
class Standing:
    """One string or fixture."""

    subject: Subject
    label: str
    state: State
    since: Entry | None = None
    """The entry that settled the state; None when nothing has."""
    changes: tuple[str, ...] = ()
    """What the display file says otherwise than when it was proven or found at fault: "slot was 1, is 4"."""
    history: tuple[Entry, ...] = ()
    """What was proven, found, fixed and noted, in order; single answers that settled nothing are left out."""

    @property
    def is_open(self) -> bool:
        """Whether there is something left to do."""
        return self.state is not State.PROVEN


@dataclass(frozen=True, slots=True)
class Standings:
    """The whole display."""

    display: str
    all: tuple[Standing, ...]
    """In file order: strings first, then fixtures."""
    gone: tuple[Standing, ...] = ()
    """Those that the logbook knows and the display file does not, any more."""

    @property
    def punch_list(self) -> tuple[Standing, ...]:
        """What is open, the most urgent first."""
        urgency = list(State)
        return tuple(
            sorted((each for each in self.all if each.is_open), key=lambda s: urgency.index(s.state))
        )

    def count(self, state: State) -> int:
        """Return how many stand so."""
        return sum(each.state is state for each in self.all)


def standings(display: Display, entries: Iterable[Entry]) -> Standings:
    """Return how everything in the display stands, by the logbook's entries."""
    kept = standing_entries(entries)
    now, names = fingerprints(display), labels(display)
    known: dict[Subject, list[Entry]] = {subject: [] for subject in now}
    for entry in kept:
        if entry.subject != ALL:
            known.setdefault(entry.subject, []).append(entry)
    return Standings(
        display.name,
        tuple(_standing(subject, names[subject], known[subject], now[subject]) for subject in now),
        tuple(_gone(subject, told) for subject, told in known.items() if subject not in now),
    )


def _standing(subject: Subject, label: str, entries: Sequence[Entry], now: Fingerprint) -> Standing:
    since = next((entry for entry in reversed(entries) if _settles(entry)), None)
    differences = changes(since.fingerprint, now) if since else ()
    state = _state(since)
    if state is State.PROVEN and differences:
        state = State.CHANGED
    return Standing(subject, label, state, since, differences, _history(entries))


def _gone(subject: Subject, entries: Sequence[Entry]) -> Standing:
    since = next((entry for entry in reversed(entries) if _settles(entry)), None)
    return Standing(subject, entries[-1].label, _state(since), since, (), _history(entries))


def _settles(entry: Entry) -> bool:
    return entry.verdict is not None or entry.kind is Kind.FIXED


def _state(since: Entry | None) -> State:
    if since is None:
        return State.UNSEEN
    if since.kind is Kind.FIXED:
        return State.FIXED
    return State.PROVEN if since.verdict is Verdict.PROVEN else State.FAULT


def _history(entries: Sequence[Entry]) -> tuple[Entry, ...]:
    return tuple(entry for entry in entries if _settles(entry) or entry.kind in (Kind.FOUND, Kind.NOTE))
