"""What one run writes into its journal, and what becomes of it while the disk takes nothing.

What a call has returned from is on the disk. While the disk is full every call says so by
JournalFullError: samples of that time are lost and counted, events wait in memory, and the first call that
goes through writes them, and says from when to when nothing could be kept.
"""

import sqlite3
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from streamer.errors import JournalError, JournalFullError
from streamer.keeping.store import transaction
from streamer.soak.records import Ended, Event, EventKind, Moment, RunClock, RunFacts, Sample, Severity
from streamer.soak.rows import event_row, told_of
from streamer.soak.schema import KIND

WAITING_LIMIT = 1_000
"""Events and ends of events that wait for room; of more, only how many there were is kept."""

Statement = tuple[str, tuple[Any, ...]]
Key = tuple[EventKind, str]

_SAMPLE = "INSERT INTO samples (run, number, unix_s, run_s, told) VALUES (?, ?, ?, ?, ?)"
_EVENT = (
    "INSERT INTO events (run, kind, subject, words, severity, "
    "began_unix_s, began_run_s, ended_unix_s, ended_run_s) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)"
)
_CLOSE = (
    "UPDATE events SET ended_unix_s = ?, ended_run_s = ?, words = ? "
    "WHERE run = ? AND kind = ? AND subject = ? AND ended_run_s IS NULL"
)
_END = "UPDATE runs SET ended_unix_s = ?, ended_run_s = ?, reason = ?, words = ? WHERE number = ?"


class RunPen:
    """Writes one run. Not for several threads."""

    def __init__(  # noqa: PLR0913, PLR0917  what a run is made of
        self,
        connection: sqlite3.Connection,
        path: Path,
        number: int,
        facts: RunFacts,
        clock: RunClock,
        samples: int = 0,
        gap: Event | None = None,
        still_open: Sequence[Event] = (),
    ) -> None:
        self.number = number
        self.facts = facts
        self.clock = clock
        """Makes the moments of this run."""
        self.gap = gap
        """Where the run was broken off and taken up again; None when it has just begun."""
        self._connection = connection
        self._path = path
        self._samples = samples
        self._open: dict[Key, Event] = {(event.kind, event.subject): event for event in still_open}
        self._waiting: list[Statement] = []
        self._hole: Event | None = None
        self._lost_samples = 0
        self._lost_events = 0

    @property
    def open_events(self) -> tuple[Event, ...]:
        """What has begun and not ended, in the order of beginning."""
        return tuple(self._open.values())

    @property
    def darkened_by(self) -> str:
        """Who has made the lights dark by hand; empty where nobody has, or a person has lit them again."""
        return next((event.subject for event in self._open.values() if event.kind is EventKind.DARKENED), "")

    def sample(self, sample: Sample) -> None:
        """Write a sample. JournalError, JournalFullError: it is lost, and that will be said."""
        row = (self.number, self._samples, sample.at.unix_s, sample.at.run_s, told_of(sample))
        self._samples += 1
        try:
            self._write([], [(_SAMPLE, row)], sample.at)
        except JournalError:
            self._lost_samples += 1
            raise

    def note(self, event: Event) -> None:
        """Write an event, open or over. One of that kind and subject that is open ends where this begins.

        JournalError, JournalFullError: it waits in memory.
        """
        key = (event.kind, event.subject)
        statements = []
        if key in self._open:
            statements.append(self._closing(replace(self._open.pop(key), ended_at=event.began_at)))
        if event.ended_at is None:
            self._open[key] = event
        statements.append((_EVENT, event_row(self.number, event)))
        self._write(statements, [], event.began_at)

    def close(self, kind: EventKind, subject: str, at: Moment, words: str | None = None) -> Event | None:
        """Write the end of what is open, with other words if there are; None where nothing of it is open.

        JournalError, JournalFullError: it waits in memory.
        """
        event = self._open.pop((kind, subject), None)
        if event is None:
            return None
        closed = replace(event, ended_at=at, words=event.words if words is None else words)
        self._write([self._closing(closed)], [], at)
        return closed

    def end(self, ended: Ended) -> None:
        """Write that the run has ended, and the end of everything that is still open."""
        closing = [self._closing(replace(event, ended_at=ended.at)) for event in self._open.values()]
        self._open.clear()
        last = (ended.at.unix_s, ended.at.run_s, ended.reason.value, ended.words, self.number)
        self._write([*closing, (_END, last)], [], ended.at)

    def _closing(self, event: Event) -> Statement:
        ended = event.ended_at or event.began_at
        row = event_row(self.number, event)
        return _CLOSE, (ended.unix_s, ended.run_s, row[3], self.number, row[1], row[2])

    def _write(self, lasting: Sequence[Statement], passing: Sequence[Statement], at: Moment) -> None:
        """Write all or none; what is lasting waits if that fails."""
        try:
            with KIND.in_words(self._path), transaction(self._connection):
                for statement, row in (*self._hole_told(at), *self._waiting, *lasting, *passing):
                    self._connection.execute(statement, row)
        except JournalError as error:
            self._hole = self._hole or _hole(error, at)
            room = max(0, WAITING_LIMIT - len(self._waiting))
            self._waiting += lasting[:room]
            self._lost_events += len(lasting[room:])
            raise
        self._waiting.clear()
        self._hole, self._lost_samples, self._lost_events = None, 0, 0

    def _hole_told(self, at: Moment) -> list[Statement]:
        if self._hole is None:
            return []
        lost = f"{self._lost_samples} samples and {self._lost_events} events were not kept"
        words = f"{self._hole.words}; {lost}"
        return [(_EVENT, event_row(self.number, replace(self._hole, words=words, ended_at=at)))]


def _hole(error: JournalError, at: Moment) -> Event:
    kind = EventKind.DISK_FULL if isinstance(error, JournalFullError) else EventKind.NOT_KEPT
    return Event(kind, "", error.what, Severity.REMARK, at)
