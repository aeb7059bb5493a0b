"""What a kind of file is: its tables, its own number, and in which words its troubles are told.

What a file is, SQLite's own `application_id` and `user_version` say (sqlite.org/pragma.html).
"""

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from streamer.display.places import plain
from streamer.errors import RopewalkError

PRIMARY = 0xFF
"""The lowest octet of SQLite's extended codes is the primary one (sqlite.org/rescode.html)."""
BUSY = "another program holds the {noun}"
NO_RIGHT = "the {noun} may not be written"
NO_OPENING = "the {noun} cannot be opened"
NO_DISK = "the disk does not do what it is asked"
FULL = "the disk is full"
DAMAGED = "the {noun} is damaged"
IS_NONE = "this is no {noun}"
ASIDE = "Nothing was changed. Move the file aside and keep it; a new one is begun in its place"

Told = Callable[[str, str, str], RopewalkError]
"""Makes the error of what is wrong, where, and what to do instead."""
Migration = tuple[str, ...]
"""The statements that bring a file from one version to the next."""

WORDS = {
    sqlite3.SQLITE_BUSY: (BUSY, "{safe}. Close the other program{again}"),
    sqlite3.SQLITE_FULL: (FULL, "{safe}. Make room{again}"),
    sqlite3.SQLITE_READONLY: (
        NO_RIGHT,
        "{safe}. Give yourself the right to write the file and its folder{again}",
    ),
    sqlite3.SQLITE_CANTOPEN: (
        NO_OPENING,
        "It stands beside the display file: you need the right to write in that folder",
    ),
    sqlite3.SQLITE_PERM: ("the {noun} may not be opened", "Change its permissions"),
    sqlite3.SQLITE_IOERR: (
        NO_DISK,
        "{safe} that the disk still has. Copy the folder to another disk{again}",
    ),
    sqlite3.SQLITE_CORRUPT: (DAMAGED, ASIDE),
    sqlite3.SQLITE_NOTADB: (IS_NONE, ASIDE),
}


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of file."""

    noun: str
    """"journal"."""
    application_id: int
    """Tells its files from any other SQLite file."""
    migrations: Sequence[Migration]
    """The first makes a new file; its version is how many have been done."""
    objects: frozenset[str]
    """Everything that such a file holds: a trigger or a view in it is not ours."""
    error: Told
    full_error: Told
    """For a full disk."""
    safe: str
    """A sentence: what a trouble leaves as it was."""
    again: str
    """How the advice goes on: ", then try again"."""
    value_limit_octets: int
    """The longest value that SQLite gives us: a hostile file may hold larger ones."""

    @contextmanager
    def in_words(self, path: Path) -> Iterator[None]:
        """Turn what SQLite raises about the file at `path` into an error of this kind."""
        try:
            yield
        except (sqlite3.Error, sqlite3.Warning) as error:
            code = code_of(error)
            what, instead = WORDS.get(code, (f"SQLite refuses ({plain(str(error))})", ASIDE))
            told = self.full_error if code == sqlite3.SQLITE_FULL else self.error
            raise told(self._filled(what), plain(str(path)), self._filled(instead)) from error
        except UnicodeDecodeError as error:
            # Python's, of a damaged name or text, before SQLite finds anything.
            raise self.damaged(path, self._filled(DAMAGED)) from error

    def damaged(self, path: Path, what: str) -> RopewalkError:
        """Return the error for a file that opens, but does not hold what such a file holds."""
        return self.error(what, plain(str(path)), ASIDE)

    def version_of(self, connection: sqlite3.Connection, path: Path) -> int:
        """Return the version of the file, 0 for a new one; an error when it is of another kind, or newer."""
        objects = {name for (name,) in connection.execute("SELECT name FROM sqlite_master LIMIT 100")}
        (application,) = connection.execute("PRAGMA application_id").fetchone()
        (version,) = connection.execute("PRAGMA user_version").fetchone()
        if not objects and not application and not version:
            return 0
        if application != self.application_id or version < 1:
            raise self.damaged(path, f"this is a database, but no {self.noun}")
        if version > len(self.migrations):
            what = (
                f"the {self.noun} is of version {version}, written by a newer Ropewalk; "
                f"this one knows {len(self.migrations)}"
            )
            raise self.error(what, plain(str(path)), "Nothing was changed. Use the newer Ropewalk")
        if not objects <= self.objects:
            odd = plain(min(objects - self.objects))
            raise self.damaged(path, f"there is something in it that is no {self.noun}'s: {odd}")
        return int(version)

    def _filled(self, words: str) -> str:
        return words.replace("{noun}", self.noun).replace("{safe}", self.safe).replace("{again}", self.again)


def code_of(error: BaseException | None) -> int:
    """Return SQLite's primary code for an error; 0 for one that is not SQLite's."""
    return getattr(error, "sqlite_errorcode", 0) & PRIMARY
