"""The logbook's tables, as SQLite is told them, and how an older file becomes one of today.

What a file is: SQLite's own `application_id` and `user_version` say it (sqlite.org/pragma.html).
"""

from collections.abc import Sequence

APPLICATION_ID = 0x526F7077
"""Ours: "Ropw" in ASCII. Tells a logbook from any other SQLite file."""

Migration = tuple[str, ...]
"""The statements that bring a file from one version to the next."""

MIGRATIONS: Sequence[Migration] = (
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
        f"PRAGMA application_id = {APPLICATION_ID}",
    ),
)
"""The first makes a new file; its version is how many have been done."""

OBJECTS = frozenset({"entries", "sqlite_sequence"})
"""Everything that a logbook holds: a trigger or a view in it is not ours."""
