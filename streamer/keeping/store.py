"""A file of SQLite, opened so that what has been committed survives kill -9 and a loss of power.

Write-ahead log and synchronous=FULL. NORMAL would keep the file whole, but not the last transactions
(sqlite.org/pragma.html#pragma_synchronous).
"""

import sqlite3
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from shutil import copyfile
from typing import TypeVar

from streamer.display.places import plain
from streamer.errors import RopewalkError
from streamer.keeping.kind import Kind, code_of

RETRY_S = 0.01
WAL, HOT = "-wal", "-journal"
"""What stands beside a file that is written, or was when its writer was killed: sqlite.org/tempfiles.html."""
LOG_PAGES = 64
"""The write-ahead log is put into the file from this length on: 256 KiB, for pages of 4 KiB. SQLite's own
1,000 pages would take 4 MB of a small disk before anything is written where it belongs."""
NEEDS_TO_WRITE = frozenset({sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY})

Done = TypeVar("Done")


def open_to_write(path: Path, kind: Kind, patience_s: float) -> sqlite3.Connection:
    """Return a connection to the file, made or brought up to date where that is due."""
    with kind.in_words(path):
        connection = _connect(str(path), kind, patience_s)
    try:
        with kind.in_words(path):
            _prepare(connection, path, kind, patience_s)
    except BaseException:
        connection.close()
        raise
    return connection


@contextmanager
def open_to_read(path: Path, kind: Kind, patience_s: float) -> Iterator[sqlite3.Connection | None]:
    """Give a connection to what the file holds at one moment, and change nothing; None for an empty file."""
    with tempfile.TemporaryDirectory(prefix="ropewalk") as folder:
        try:
            connection = _connect_to_read(path, path, kind, patience_s)
        except RopewalkError as error:
            if code_of(error.__cause__) not in NEEDS_TO_WRITE:
                raise
            # SQLite needs to write beside a write-ahead log even to read it: in a folder where that is not
            # allowed, a copy elsewhere is read instead.
            copy = _copied(path, Path(folder), kind)
            connection = _connect_to_read(copy, path, kind, patience_s)
        with closing(connection), kind.in_words(path), snapshot(connection):
            yield connection if kind.version_of(connection, path) else None


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """Do all or nothing; it is on the disk once this is left."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        # A full disk may have rolled back by itself.
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


@contextmanager
def snapshot(connection: sqlite3.Connection) -> Iterator[None]:
    """Read everything as of one moment, though another process may be writing the file just now."""
    connection.execute("BEGIN")
    try:
        yield
    finally:
        connection.execute("ROLLBACK")


def _prepare(connection: sqlite3.Connection, path: Path, kind: Kind, patience_s: float) -> None:
    with snapshot(connection):
        kind.version_of(connection, path)
    # SQLite does not wait by itself when two processes switch a new file over at once.
    _patiently(lambda: connection.execute("PRAGMA journal_mode = WAL").fetchone(), patience_s)
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute(f"PRAGMA wal_autocheckpoint = {LOG_PAGES}")
    with transaction(connection):
        version = kind.version_of(connection, path)
        for statements in kind.migrations[version:]:
            for statement in statements:
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {kind.application_id}")
        connection.execute(f"PRAGMA user_version = {len(kind.migrations)}")


def _connect_to_read(file: Path, named: Path, kind: Kind, patience_s: float) -> sqlite3.Connection:
    with kind.in_words(named):
        connection = _connect(f"{file.absolute().as_uri()}?mode=ro{_at_rest(file)}", kind, patience_s)
    try:
        with kind.in_words(named), snapshot(connection):
            kind.version_of(connection, named)
    except BaseException:
        connection.close()
        raise
    return connection


def _at_rest(file: Path) -> str:
    """Return how SQLite is told that nothing writes the file, if that is so; else "".

    Else it would make files beside it that stay, and that belong to who has read: another user who writes
    could not have them. Who begins to write meanwhile does so beside the file, and into it only later.
    """
    beside = (file.with_name(file.name + suffix) for suffix in (WAL, HOT))
    return "" if any(each.exists() for each in beside) else "&immutable=1"


def _copied(path: Path, folder: Path, kind: Kind) -> Path:
    copy = folder / path.name
    try:
        for suffix in ("", WAL):
            if (each := path.with_name(path.name + suffix)).exists():
                copyfile(each, copy.with_name(copy.name + suffix))
    except OSError as error:
        what = f"the {kind.noun} cannot be read ({error.strerror or error})"
        raise kind.error(what, plain(str(path)), "Change its permissions, or copy it") from error
    return copy


def _connect(place: str, kind: Kind, patience_s: float) -> sqlite3.Connection:
    connection = sqlite3.connect(
        place, timeout=patience_s, isolation_level=None, uri=place.startswith("file:")
    )
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, kind.value_limit_octets)
    connection.execute("PRAGMA trusted_schema = OFF")
    return connection


def _patiently(do: Callable[[], Done], patience_s: float) -> Done:
    limit_s = time.monotonic() + patience_s
    while True:
        try:
            return do()
        except sqlite3.OperationalError as error:
            if code_of(error) != sqlite3.SQLITE_BUSY or time.monotonic() >= limit_s:
                raise
        time.sleep(RETRY_S)
