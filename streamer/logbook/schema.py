"""The logbook's tables, as SQLite is told them, and what kind of file it is."""

from streamer.errors import LogbookError
from streamer.keeping.kind import Kind

APPLICATION_ID = 0x526F7077
"""Ours: "Ropw" in ASCII. Tells a logbook from any other SQLite file."""

KIND = Kind(
    noun="logbook",
    application_id=APPLICATION_ID,
    migrations=(
        (
            """CREATE TABLE entries (
                number INTEGER PRIMARY KEY AUTOINCREMENT,
                at_utc TEXT NOT NULL,
                offset_minutes INTEGER NOT NULL,
                kind TEXT NOT NULL,
                sort TEXT NOT NULL,
                name TEXT NOT NULL,
                label TEXT NOT NULL,
                look TEXT NOT NULL,
                question TEXT NOT NULL,
                answer TEXT NOT NULL,
                verdict TEXT,
                words TEXT NOT NULL,
                undoes INTEGER,
                fingerprint TEXT NOT NULL
            )""",
        ),
    ),
    objects=frozenset({"entries", "sqlite_sequence"}),
    error=LogbookError,
    full_error=LogbookError,
    safe="Nothing noted before is lost",
    again=", then do the last step again",
    value_limit_octets=100_000,
)
