"""The logbook's file: SQLite beside the display file. What `append` has returned is on the disk.

Write-ahead log and synchronous=FULL: a commit then survives kill -9 and a loss of power. NORMAL would keep
the file whole, but not the last entries (sqlite.org/pragma.html#pragma_synchronous).
"""

import sqlite3
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from shutil import copyfile
from types import TracebackType
from typing import Self, TypeVar

from streamer.display.places import plain
from streamer.errors import LogbookError
from streamer.logbook.records import Entry
from streamer.logbook.refusals import code_of, damaged, in_words
from streamer.logbook.rows import COLUMNS, entry_of, row_of
from streamer.logbook.schema import APPLICATION_ID, MIGRATIONS, OBJECTS, Migration

SUFFIX = ".logbook"
PATIENCE_S = 5.0
"""How long another writer is waited for; it holds the file for less than a hundredth of that."""
ENTRIES_LIMIT = 100_000
"""Some hundred walks through a hundred strings. Bounds memory."""
VALUE_LIMIT_OCTETS = 100_000
"""The longest value that SQLite gives us: a hostile file may hold larger ones."""
RETRY_S = 0.01
WAL = "-wal"
NEEDS_TO_WRITE = frozenset({sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY})

Done = TypeVar("Done")

_INSERT = f"INSERT INTO entries ({', '.join(COLUMNS)}) VALUES ({', '.join('?' * len(COLUMNS))})"  # noqa: S608
_SELECT = f"SELECT number, {', '.join(COLUMNS)} FROM entries ORDER BY number LIMIT ?"  # noqa: S608  our own names


def logbook_path(display_file: Path) -> Path:
    """Return where the logbook of a display file is: beside it, "display.toml.logbook"."""
    return display_file.with_name(display_file.name + SUFFIX)


class Logbook:
    """An open logbook, made where there was none. LogbookError, in words, for whatever goes wrong with it."""

    def __init__(
        self, path: Path, patience_s: float = PATIENCE_S, migrations: Sequence[Migration] = MIGRATIONS
    ) -> None:
        self.path = path
        with in_words(path):
            self._connection = _connect(str(path), patience_s)
        try:
            with in_words(path):
                self._prepare(patience_s, migrations)
        except BaseException:
            self._connection.close()
            raise

    def _prepare(self, patience_s: float, migrations: Sequence[Migration]) -> None:
        with _snapshot(self._connection):
            _check_kind(self._connection, self.path, len(migrations))
        # SQLite does not wait by itself when two processes switch a new file over at once.
        _patiently(lambda: self._connection.execute("PRAGMA journal_mode = WAL").fetchone(), patience_s)
        self._connection.execute("PRAGMA synchronous = FULL")
        with self._transaction():
            version = _check_kind(self._connection, self.path, len(migrations))
            for statements in migrations[version:]:
                for statement in statements:
                    self._connection.execute(statement)
            self._connection.execute(f"PRAGMA user_version = {len(migrations)}")

    def append(self, *entries: Entry) -> tuple[Entry, ...]:
        """Write entries, all or none, and return them with their numbers once they are on the disk."""
        written = []
        with in_words(self.path), self._transaction():
            for entry in entries:
                number = self._connection.execute(_INSERT, row_of(entry)).lastrowid
                if not number or number > ENTRIES_LIMIT:
                    raise _too_long(self.path)
                written.append(entry.model_copy(update={"number": number}))
        return tuple(written)

    def entries(self) -> tuple[Entry, ...]:
        """Return everything in it, in the order of writing."""
        return _read(self._connection, self.path)

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            yield
            self._connection.execute("COMMIT")
        except BaseException:
            # A full disk may have rolled back by itself.
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")
            raise

    def close(self) -> None:
        """Close the file; everything is on the disk already."""
        with in_words(self.path):
            self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def read_logbook(path: Path, patience_s: float = PATIENCE_S) -> tuple[Entry, ...]:
    """Return everything in the logbook at `path` and change nothing; no entries where there is no file.

    LogbookError, in words, for a file that cannot be read.
    """
    if not path.exists():
        return ()
    try:
        return _read_file(path, path, patience_s)
    except LogbookError as error:
        if code_of(error.__cause__) not in NEEDS_TO_WRITE:
            raise
    # SQLite needs to write beside a write-ahead log even to read it: in a folder where that is not allowed, a
    # copy elsewhere is read instead.
    with tempfile.TemporaryDirectory(prefix="ropewalk") as folder:
        copy = Path(folder) / path.name
        try:
            for suffix in ("", WAL):
                if (each := path.with_name(path.name + suffix)).exists():
                    copyfile(each, copy.with_name(copy.name + suffix))
        except OSError as error:
            what = f"the logbook cannot be read ({error.strerror or error})"
            raise LogbookError(what, plain(str(path)), "Change its permissions, or copy it") from error
        return _read_file(copy, path, patience_s)


def _read_file(file: Path, named: Path, patience_s: float) -> tuple[Entry, ...]:
    place = f"{file.absolute().as_uri()}?mode=ro"
    with in_words(named), closing(_connect(place, patience_s)) as connection, _snapshot(connection):
        version = _check_kind(connection, named, len(MIGRATIONS))
        return _read(connection, named) if version else ()


def _connect(place: str, patience_s: float) -> sqlite3.Connection:
    connection = sqlite3.connect(
        place, timeout=patience_s, isolation_level=None, uri=place.startswith("file:")
    )
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, VALUE_LIMIT_OCTETS)
    connection.execute("PRAGMA trusted_schema = OFF")
    return connection


@contextmanager
def _snapshot(connection: sqlite3.Connection) -> Iterator[None]:
    """Read everything as of one moment, though another process may be making the file just now."""
    connection.execute("BEGIN")
    try:
        yield
    finally:
        connection.execute("ROLLBACK")


def _patiently(do: Callable[[], Done], patience_s: float) -> Done:
    limit_s = time.monotonic() + patience_s
    while True:
        try:
            return do()
        except sqlite3.OperationalError as error:
            if code_of(error) != sqlite3.SQLITE_BUSY or time.monotonic() >= limit_s:
                raise
        time.sleep(RETRY_S)


def _check_kind(connection: sqlite3.Connection, path: Path, known: int) -> int:
    """Return the version of the file, 0 for a new one; LogbookError when it is none of ours, or newer."""
    objects = {name for (name,) in connection.execute("SELECT name FROM sqlite_master LIMIT 100")}
    (application,) = connection.execute("PRAGMA application_id").fetchone()
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    if not objects and not application and not version:
        return 0
    if application != APPLICATION_ID or version < 1:
        raise damaged(path, "this is a database, but no logbook")
    if version > known:
        what = f"the logbook is of version {version}, written by a newer Ropewalk; this one knows {known}"
        raise LogbookError(what, plain(str(path)), "Nothing was changed. Use the newer Ropewalk")
    if not objects <= OBJECTS:
        raise damaged(path, f"there is something in it that is no logbook's: {plain(min(objects - OBJECTS))}")
    return int(version)


def _read(connection: sqlite3.Connection, path: Path) -> tuple[Entry, ...]:
    try:
        with in_words(path):
            rows = connection.execute(_SELECT, (ENTRIES_LIMIT + 1,))
            entries = tuple(map(entry_of, rows))
    except ValueError as error:
        raise damaged(path, f"an entry cannot be read ({plain(str(error))[:200]})") from error
    if len(entries) > ENTRIES_LIMIT:
        raise _too_long(path)
    return entries


def _too_long(path: Path) -> LogbookError:
    what = f"the logbook has {ENTRIES_LIMIT} entries, which is all that it takes"
    return LogbookError(what, plain(str(path)), "Move the file aside and keep it; a new one is begun")
