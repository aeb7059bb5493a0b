"""The journal's tables, as SQLite is told them, and what kind of file it is.

Samples stand by run and number, without a row number of their own and an index beside it.
"""

from streamer.errors import JournalError, JournalFullError
from streamer.keeping.kind import Kind

APPLICATION_ID = 0x526F7053
"""Ours: "RopS" in ASCII."""

KIND = Kind(
    noun="journal",
    application_id=APPLICATION_ID,
    migrations=(
        (
            """CREATE TABLE runs (
                number INTEGER PRIMARY KEY AUTOINCREMENT,
                facts TEXT NOT NULL,
                began_unix_s REAL NOT NULL,
                writer TEXT NOT NULL,
                ended_unix_s REAL,
                ended_run_s REAL,
                reason TEXT,
                words TEXT
            )""",
            """CREATE TABLE samples (
                run INTEGER NOT NULL,
                number INTEGER NOT NULL,
                unix_s REAL NOT NULL,
                run_s REAL NOT NULL,
                told BLOB NOT NULL,
                PRIMARY KEY (run, number)
            ) WITHOUT ROWID""",
            """CREATE TABLE events (
                number INTEGER PRIMARY KEY AUTOINCREMENT,
                run INTEGER NOT NULL,
                kind TEXT NOT NULL,
                subject TEXT NOT NULL,
                words TEXT NOT NULL,
                severity TEXT NOT NULL,
                began_unix_s REAL NOT NULL,
                began_run_s REAL NOT NULL,
                ended_unix_s REAL,
                ended_run_s REAL
            )""",
            "CREATE INDEX events_by_run ON events (run, began_run_s)",
        ),
    ),
    objects=frozenset({"runs", "samples", "events", "events_by_run", "sqlite_sequence"}),
    error=JournalError,
    full_error=JournalFullError,
    safe="Nothing written before is lost",
    again="; writing goes on by itself",
    value_limit_octets=1_000_000,
)
