"""What SQLite refuses, in words: what is wrong with the logbook's file, and what to do."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from streamer.display.places import plain
from streamer.errors import LogbookError

PRIMARY = 0xFF
"""The lowest octet of SQLite's extended codes is the primary one (sqlite.org/rescode.html)."""
SAFE = "Nothing noted before is lost"
AGAIN = "then do the last step again"

WORDS = {
    sqlite3.SQLITE_BUSY: (
        "another program holds the logbook",
        f"{SAFE}. Close the other program, {AGAIN}",
    ),
    sqlite3.SQLITE_FULL: ("the disk is full", f"{SAFE}. Make room, {AGAIN}"),
    sqlite3.SQLITE_READONLY: (
        "the logbook may not be written",
        f"{SAFE}. Give yourself the right to write the file and its folder, {AGAIN}",
    ),
    sqlite3.SQLITE_CANTOPEN: (
        "the logbook cannot be opened",
        "It stands beside the display file: you need the right to write in that folder",
    ),
    sqlite3.SQLITE_PERM: ("the logbook may not be opened", "Change its permissions"),
    sqlite3.SQLITE_IOERR: (
        "the disk does not do what it is asked",
        f"{SAFE} that the disk still has. Copy the folder to another disk, {AGAIN}",
    ),
    sqlite3.SQLITE_CORRUPT: (
        "the logbook is damaged",
        "Nothing was changed. Move the file aside and keep it; a new one is begun in its place",
    ),
    sqlite3.SQLITE_NOTADB: (
        "this is no logbook",
        "Nothing was changed. Move the file aside; a new one is begun in its place",
    ),
}
OTHER = "Nothing was changed by this. Move the file aside and keep it; a new one is begun in its place"


@contextmanager
def in_words(path: Path) -> Iterator[None]:
    """Turn what SQLite raises about the file at `path` into a LogbookError."""
    try:
        yield
    except (sqlite3.Error, sqlite3.Warning) as error:
        what, instead = WORDS.get(code_of(error), (f"SQLite refuses ({plain(str(error))})", OTHER))
        raise LogbookError(what, plain(str(path)), instead) from error


def code_of(error: BaseException | None) -> int:
    """Return SQLite's primary code for an error; 0 for one that is not SQLite's."""
    return getattr(error, "sqlite_errorcode", 0) & PRIMARY


def damaged(path: Path, what: str) -> LogbookError:
    """Return the error for a file that opens, but does not hold what a logbook holds."""
    return LogbookError(what, plain(str(path)), OTHER)
