"""The journal's file, "display.toml.soak", beside the display file: its runs, begun, resumed and read.

The tables are in `schema.py`, how a file is kept safe in `streamer/keeping/`.
"""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import psutil

from streamer.closing import Closes
from streamer.display.places import plain
from streamer.errors import JournalError
from streamer.keeping.store import open_to_read, open_to_write, transaction
from streamer.soak.pen import RunPen
from streamer.soak.records import Event, EventKind, Moment, RunClock, RunFacts, RunRecord, Sample, Severity
from streamer.soak.rows import event_of, event_row, facts_text, run_of, sample_of
from streamer.soak.schema import KIND

SUFFIX = ".soak"
PATIENCE_S = 2.0
"""How long another writer is waited for; it holds the file for less than a hundredth of that."""
RUNS_LIMIT = 10_000
EVENTS_LIMIT = 50_000
"""Of one run: one a second all night. Bounds memory."""

_RUN = "number, facts, began_unix_s, ended_unix_s, ended_run_s, reason, words"
_WRITING = "SELECT writer FROM runs WHERE reason IS NULL ORDER BY number DESC LIMIT 1"
_EVENT = "kind, subject, words, severity, began_unix_s, began_run_s, ended_unix_s, ended_run_s"
_DARK = f"SELECT {_EVENT} FROM events WHERE run = ? AND kind = ? AND ended_run_s IS NULL"  # noqa: S608  our own names
_LAST = (
    "SELECT unix_s, run_s FROM ("
    "SELECT unix_s, run_s FROM (SELECT * FROM samples WHERE run = :run ORDER BY number DESC LIMIT 1) "
    "UNION ALL SELECT began_unix_s, began_run_s FROM events WHERE run = :run "
    "UNION ALL SELECT ended_unix_s, ended_run_s FROM events WHERE run = :run AND ended_run_s IS NOT NULL "
    "UNION ALL SELECT ended_unix_s, ended_run_s FROM runs WHERE number = :run AND reason IS NOT NULL "
    "UNION ALL SELECT began_unix_s, 0.0 FROM runs WHERE number = :run) ORDER BY run_s DESC LIMIT 1"
)


def fingerprint(display_file: Path) -> str:
    """Return what tells whether a display file is still the same, as `RunFacts` has it."""
    return sha256(display_file.read_bytes()).hexdigest()


def journal_path(display_file: Path) -> Path:
    """Return where the journal of a display file is: beside it, "display.toml.soak"."""
    return display_file.with_name(display_file.name + SUFFIX)


class Journal(Closes):
    """An open journal, made where there was none. JournalError, in words, for whatever goes wrong with it."""

    def __init__(self, path: Path, patience_s: float = PATIENCE_S) -> None:
        self.path = path
        self._connection = open_to_write(path, KIND, patience_s)

    def begin(self, facts: RunFacts, unix_s: float, monotonic_s: float) -> RunPen:
        """Begin a run at the moment that the clocks say.

        JournalError while another process is writing the last one: in the morning this one would hide it.
        """
        row = (facts_text(facts), unix_s, _this_process())
        with KIND.in_words(self.path), transaction(self._connection):
            for (writer,) in self._connection.execute(_WRITING):
                self._refuse_if_alive(writer)
            number = self._connection.execute(
                "INSERT INTO runs (facts, began_unix_s, writer) VALUES (?, ?, ?)", row
            ).lastrowid
        return RunPen(self._connection, self.path, number or 0, facts, RunClock(-monotonic_s))

    def resume(self, unix_s: float, monotonic_s: float) -> RunPen | None:
        """Take up the last run where it was broken off, and write the gap; None where the last run has ended.

        What was open is closed with the last moment that anything is known of; what a person had made dark is
        open anew. JournalError when another process is writing that run.
        """
        with KIND.in_words(self.path), transaction(self._connection):
            found = self._connection.execute(
                f"SELECT writer, {_RUN} FROM runs ORDER BY number DESC LIMIT 1"  # noqa: S608  our own names
            ).fetchone()
            if found is None or found[-2] is not None:
                return None
            writer, *row = found
            self._refuse_if_alive(writer)
            with _checked(self.path):
                run = run_of(tuple(row), _last(self._connection, int(row[0])))
            return self._taken_up(run, unix_s, monotonic_s)

    def _taken_up(self, run: RunRecord, unix_s: float, monotonic_s: float) -> RunPen:
        last = run.last_at
        now = Moment(unix_s, last.run_s + max(0.0, unix_s - last.unix_s))
        words = "the run was broken off, and nothing is known of this time"
        gap = Event(EventKind.JOURNAL_GAP, "", words, Severity.REMARK, last, now)
        execute = self._connection.execute
        with _checked(self.path):
            dark = list(map(event_of, execute(_DARK, (run.number, EventKind.DARKENED.value))))
        still_dark = [replace(event, began_at=now) for event in dark]
        execute(
            "UPDATE events SET ended_unix_s = ?, ended_run_s = ? WHERE run = ? AND ended_run_s IS NULL",
            (last.unix_s, last.run_s, run.number),
        )
        # With the gap, in one transaction: a second kill before anything is lit forgets none of it.
        for event in (gap, *still_dark):
            execute(
                f"INSERT INTO events (run, {_EVENT}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",  # noqa: S608
                event_row(run.number, event),
            )
        execute("UPDATE runs SET writer = ? WHERE number = ?", (_this_process(), run.number))
        (samples,) = execute(
            "SELECT coalesce(max(number) + 1, 0) FROM samples WHERE run = ?", (run.number,)
        ).fetchone()
        clock = RunClock(now.run_s - monotonic_s)
        return RunPen(self._connection, self.path, run.number, run.facts, clock, samples, gap, still_dark)

    def _refuse_if_alive(self, writer: str) -> None:
        if writer != _this_process() and (number := _alive(writer)):
            what = f"a run of it goes on, in process {number}"
            raise JournalError(what, plain(str(self.path)), "Stop that one first, or let it go on")

    def close(self) -> None:
        """Close the file; everything is on the disk already."""
        with KIND.in_words(self.path):
            self._connection.close()


class JournalReader:
    """What a journal holds at one moment, while it may be written; made by `reading`."""

    def __init__(self, connection: sqlite3.Connection | None, path: Path) -> None:
        self._connection = connection
        self._path = path

    def runs(self) -> tuple[RunRecord, ...]:
        """Return every run, the oldest first; the latest 10,000 of more."""
        if self._connection is None:
            return ()
        rows = self._connection.execute(
            f"SELECT {_RUN} FROM runs ORDER BY number DESC LIMIT ?",  # noqa: S608  our own names
            (RUNS_LIMIT,),
        ).fetchall()
        with _checked(self._path):
            return tuple(run_of(row, _last(self._connection, row[0])) for row in reversed(rows))

    def writing_process(self, run: int) -> int:
        """Return the process that writes a run, another one than this; 0 where none is known to live."""
        if self._connection is None:
            return 0
        found = self._connection.execute("SELECT writer FROM runs WHERE number = ?", (run,)).fetchone()
        return 0 if found is None or found[0] == _this_process() else _alive(str(found[0]))

    def events(self, run: int) -> tuple[Event, ...]:
        """Return the events of a run in the order of beginning; the first 50,000 of more."""
        if self._connection is None:
            return ()
        rows = self._connection.execute(
            f"SELECT {_EVENT} FROM events WHERE run = ? ORDER BY began_run_s, number LIMIT ?",  # noqa: S608
            (run, EVENTS_LIMIT),
        )
        with _checked(self._path):
            return tuple(map(event_of, rows))

    def samples(self, run: int) -> Iterator[Sample]:
        """Give the samples of a run one by one, in order: a week of them would not fit in memory."""
        if self._connection is None:
            return
        rows = self._connection.execute(
            "SELECT unix_s, run_s, told FROM samples WHERE run = ? ORDER BY number", (run,)
        )
        with KIND.in_words(self._path), _checked(self._path):
            yield from map(sample_of, rows)


@contextmanager
def reading(path: Path, patience_s: float = PATIENCE_S) -> Iterator[JournalReader]:
    """Open the journal at `path` to be read, changing nothing; one without runs where there is no file.

    JournalError, in words, for a file that cannot be read.
    """
    if not path.exists():
        yield JournalReader(None, path)
        return
    with open_to_read(path, KIND, patience_s) as connection:
        yield JournalReader(connection, path)


def _last(connection: sqlite3.Connection, run: int) -> Moment:
    unix_s, run_s = connection.execute(_LAST, {"run": run}).fetchone()
    return Moment(float(unix_s), float(run_s))


@contextmanager
def _checked(path: Path) -> Iterator[None]:
    try:
        yield
    except (ValueError, TypeError) as error:
        told = plain(" ".join(str(error).split()))[:200]
        raise KIND.damaged(
            path, f"the journal is damaged: something in it cannot be read ({told})"
        ) from error


def _this_process() -> str:
    """Return what tells this process from any other, also from a later one of the same number."""
    return f"{os.getpid()} {psutil.Process().create_time()}"


def _alive(writer: str) -> int:
    """Return the number of the process that wrote, if it still lives; else 0."""
    number, _, created = writer.partition(" ")
    try:
        process = psutil.Process(int(number))
        is_it = f"{number} {process.create_time()}" == writer and process.status() != psutil.STATUS_ZOMBIE
    except (psutil.Error, ValueError):
        return 0
    return int(number) if is_it and created else 0
