"""The logbook's file: SQLite beside the display file. What `append` has returned is on the disk.

How that is done, and how a file is read where nothing may be written, stands in `streamer/keeping/`.
"""

import sqlite3
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from streamer.closing import Closes
from streamer.display.places import plain
from streamer.errors import LogbookError
from streamer.keeping.kind import Migration
from streamer.keeping.store import open_to_read, open_to_write, transaction
from streamer.logbook.records import Entry
from streamer.logbook.rows import COLUMNS, entry_of, row_of
from streamer.logbook.schema import KIND

SUFFIX = ".logbook"
PATIENCE_S = 5.0
"""How long another writer is waited for; it holds the file for less than a hundredth of that."""
ENTRIES_LIMIT = 100_000
"""Some hundred walks through a hundred strings. Bounds memory."""

_INSERT = f"INSERT INTO entries ({', '.join(COLUMNS)}) VALUES ({', '.join('?' * len(COLUMNS))})"  # noqa: S608
_SELECT = f"SELECT number, {', '.join(COLUMNS)} FROM entries ORDER BY number LIMIT ?"  # noqa: S608  our own names


def logbook_path(display_file: Path) -> Path:
    """Return where the logbook of a display file is: beside it, "display.toml.logbook"."""
    return display_file.with_name(display_file.name + SUFFIX)


class Logbook(Closes):
    """An open logbook, made where there was none. LogbookError, in words, for whatever goes wrong with it."""

    def __init__(
        self, path: Path, patience_s: float = PATIENCE_S, migrations: Sequence[Migration] = KIND.migrations
    ) -> None:
        self.path = path
        self._connection = open_to_write(path, replace(KIND, migrations=migrations), patience_s)

    def append(self, *entries: Entry) -> tuple[Entry, ...]:
        """Write entries, all or none, and return them with their numbers once they are on the disk."""
        written = []
        with KIND.in_words(self.path), transaction(self._connection):
            for entry in entries:
                number = self._connection.execute(_INSERT, row_of(entry)).lastrowid
                if not number or number > ENTRIES_LIMIT:
                    raise _too_long(self.path)
                written.append(entry.model_copy(update={"number": number}))
        return tuple(written)

    def entries(self) -> tuple[Entry, ...]:
        """Return everything in it, in the order of writing."""
        return _read(self._connection, self.path)

    def close(self) -> None:
        """Close the file; everything is on the disk already."""
        with KIND.in_words(self.path):
            self._connection.close()


def read_logbook(path: Path, patience_s: float = PATIENCE_S) -> tuple[Entry, ...]:
    """Return everything in the logbook at `path` and change nothing; no entries where there is no file.

    LogbookError, in words, for a file that cannot be read.
    """
    if not path.exists():
        return ()
    with open_to_read(path, KIND, patience_s) as connection:
        return _read(connection, path) if connection else ()


def _read(connection: sqlite3.Connection, path: Path) -> tuple[Entry, ...]:
    try:
        with KIND.in_words(path):
            rows = connection.execute(_SELECT, (ENTRIES_LIMIT + 1,))
            entries = tuple(map(entry_of, rows))
    except ValueError as error:
        raise KIND.damaged(path, f"an entry cannot be read ({plain(str(error))[:200]})") from error
    if len(entries) > ENTRIES_LIMIT:
        raise _too_long(path)
    return entries


def _too_long(path: Path) -> LogbookError:
    what = f"the logbook has {ENTRIES_LIMIT} entries, which is all that it takes"
    return LogbookError(what, plain(str(path)), "Move the file aside and keep it; a new one is begun")
