"""The logbook's file: what is written stays, and whatever is wrong with the file is told in words."""

import sqlite3
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from streamer.errors import LogbookError
from streamer.logbook.records import Kind, Verdict
from streamer.logbook.schema import APPLICATION_ID, KIND
from streamer.logbook.store import Logbook, logbook_path, read_logbook
from tests.logbook.conftest import Write

Use = Callable[[Path], object]
"""Either way of opening a logbook."""


@pytest.fixture(name="path")
def _path(tmp_path: Path) -> Path:
    return logbook_path(tmp_path / "display.toml")


def test_a_logbook_stands_beside_its_display_file(tmp_path: Path):
    """Two display files in one folder have one each, whatever they end in."""
    assert logbook_path(tmp_path / "display.toml") == tmp_path / "display.toml.logbook"


def test_what_was_written_is_read_again_as_it_was(path: Path, write: Write):
    """Every field, with the offset of the clock on the wall; numbers count from 1."""
    entries = (
        write(look="order", question="Red?", answer="no", verdict=Verdict.FAULT),
        write(Kind.FIXED, words="new lead; tape \u2013 and 'quotes' \x1b[31m"),
        write(Kind.UNDONE, undoes=1),
    )
    with Logbook(path) as book:
        written = book.append(*entries)
        assert [entry.number for entry in written] == [1, 2, 3]
        assert book.entries() == written
    assert read_logbook(path) == written
    assert [entry.model_copy(update={"number": 0}) for entry in written] == list(entries)
    assert written[0].at.utcoffset() == timedelta(hours=1)


def test_times_are_kept_in_utc_with_the_offset_beside_them(path: Path, write: Write):
    """18:04 at an offset of an hour is 17:04 UTC (ISO 8601)."""
    with Logbook(path) as book:
        book.append(write())
    with sqlite3.connect(path) as connection:
        assert connection.execute("SELECT at_utc, offset_minutes FROM entries").fetchall() == [
            ("2026-11-28T17:04:00+00:00", 60)
        ]
    connection.close()


def test_a_commit_waits_for_the_disk(path: Path):
    """SQLite's documentation: in WAL mode synchronous=FULL (2) makes a commit durable, NORMAL does not."""
    with Logbook(path) as book:
        assert book._connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert book._connection.execute("PRAGMA synchronous").fetchone() == (2,)


def test_several_entries_are_written_all_or_none(path: Path, write: Write):
    """The second cannot be written, so the first is not there either."""
    with Logbook(path) as book:
        with pytest.raises(LogbookError):
            book.append(write(), write(words="x" * 2_000, fingerprint={"segments": [1] * 200_000}))
        assert book.entries() == ()
        assert [entry.number for entry in book.append(write())] == [1]


def test_a_logbook_is_put_away_in_one_file(path: Path, write: Write):
    """The write-ahead log is gone when the last writer has closed: one file to copy."""
    with Logbook(path) as book:
        book.append(write())
    assert [each.name for each in path.parent.iterdir()] == [path.name]


def test_where_there_is_no_logbook_nothing_is_read_and_none_is_made(path: Path):
    """A look at a display that nobody has proven leaves no trace."""
    assert read_logbook(path) == ()
    assert not path.exists()


def test_a_logbook_is_read_while_another_writes(path: Path, write: Write):
    """What has been written so far, without waiting for the end."""
    with Logbook(path) as book:
        written = book.append(write())
        assert read_logbook(path) == written


def test_two_writers_take_turns(path: Path, write: Write):
    """Neither loses anything, and numbers are given once."""
    with Logbook(path) as one, Logbook(path) as other:
        for _ in range(20):
            one.append(write())
            other.append(write())
        assert [entry.number for entry in one.entries()] == list(range(1, 41))


def test_a_full_disk_is_told_and_loses_nothing(path: Path, write: Write):
    """SQLITE_FULL, as max_page_count brings it about (sqlite.org/pragma.html); then there is room again."""
    with Logbook(path) as book:
        written = list(book.append(write()))
        (pages,) = book._connection.execute("PRAGMA page_count").fetchone()
        book._connection.execute(f"PRAGMA max_page_count = {pages + 1}")
        entries = (write(words="w" * 500) for _ in range(1_000))
        with pytest.raises(LogbookError, match=r"the disk is full. Nothing noted before is lost. Make room"):
            written.extend(entry for each in entries for entry in book.append(each))
        assert list(book.entries()) == written
        book._connection.execute("PRAGMA max_page_count = 1000000")
        written += book.append(write())
        assert list(book.entries()) == written
        assert book._connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_a_logbook_that_another_program_holds_is_waited_for_and_then_told(path: Path, write: Write):
    """SQLITE_BUSY: nothing is lost, and the step can be done again."""
    with Logbook(path, patience_s=0.02) as book:
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(LogbookError, match="another program holds the logbook"):
            book.append(write())
        other.execute("ROLLBACK")
        other.close()
        assert len(book.append(write())) == 1


@pytest.mark.parametrize("use", [lambda path: Logbook(path).close(), read_logbook], ids=["write", "read"])
class TestWhatIsNoLogbook:
    """It is told in words, and left as it was to the octet."""

    def refuse(self, path: Path, use: Use, words: str) -> None:
        """Expect these words, and no change."""
        before = path.read_bytes()
        with pytest.raises(LogbookError, match=words) as refused:
            use(path)
        assert str(path) in str(refused.value)
        assert path.read_bytes() == before

    def test_any_other_file(self, path: Path, use: Use):
        """Longer than a header, and not SQLite's."""
        path.write_text("name = 'Boathouse'\n" * 100)
        self.refuse(path, use, "this is no logbook. Nothing was changed. Move the file aside")

    def test_another_programs_database(self, path: Path, use: Use):
        """It has a table, but not our application_id."""
        with sqlite3.connect(path) as connection:
            connection.execute("CREATE TABLE songs (name TEXT)")
        connection.close()
        self.refuse(path, use, "this is a database, but no logbook")

    def test_a_newer_version(self, path: Path, use: Use):
        """Which may mean other things by the same words."""
        Logbook(path).close()
        with sqlite3.connect(path) as connection:
            connection.execute("PRAGMA user_version = 9")
        connection.close()
        self.refuse(
            path, use, r"of version 9, written by a newer Ropewalk; this one knows \d+.*Use the newer"
        )

    def test_something_planted(self, path: Path, use: Use):
        """A trigger could change what is written."""
        Logbook(path).close()
        with sqlite3.connect(path) as connection:
            connection.execute("CREATE TRIGGER t AFTER INSERT ON entries BEGIN DELETE FROM entries; END")
        connection.close()
        self.refuse(path, use, "something in it that is no logbook's: t")


def damaged(path: Path, write: Write, **columns: object) -> None:
    """Write one entry and overwrite some of its columns."""
    with Logbook(path) as book:
        book.append(write())
    with sqlite3.connect(path) as connection:
        for column, value in columns.items():
            connection.execute(f"UPDATE entries SET {column} = ?", (value,))  # noqa: S608  our own names
    connection.close()


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("at_utc", "yesterday"),
        ("at_utc", 5),
        ("offset_minutes", 10**9),
        ("offset_minutes", "x"),
        ("kind", "danced"),
        ("verdict", "fine"),
        ("words", b"\xff\xfe"),
        ("words", "w" * 3_000),
        ("fingerprint", "["),
        ("fingerprint", "[" * 90_000),
        ("fingerprint", "[]"),
        ("undoes", "x"),
    ],
)
def test_an_entry_that_nobody_could_have_written_is_told(
    path: Path, write: Write, column: str, value: object
):
    """A file from elsewhere is trusted no more than any other."""
    damaged(path, write, **{column: value})
    with pytest.raises(LogbookError, match=r"an entry cannot be read"):
        read_logbook(path)


def test_a_value_longer_than_any_note_is_never_taken_into_memory(path: Path, write: Write):
    """SQLite itself refuses to hand it over."""
    damaged(path, write, words="w" * 10_000_000)
    with pytest.raises(LogbookError, match="too big"):
        read_logbook(path)


def test_a_damaged_page_is_told_and_the_file_left_alone(path: Path, write: Write):
    """SQLITE_CORRUPT or SQLITE_NOTADB, whichever the octets make of it."""
    with Logbook(path) as book:
        for _ in range(200):
            book.append(write(words="w" * 200))
    octets = bytearray(path.read_bytes())
    octets[4096 * 2 : 4096 * 6] = b"\xa5" * 4096 * 4
    path.write_bytes(octets)
    with pytest.raises(LogbookError, match=r"damaged|cannot be read"):
        read_logbook(path)
    assert path.read_bytes() == octets


def test_a_folder_that_is_not_there_is_told(tmp_path: Path):
    """SQLITE_CANTOPEN."""
    with pytest.raises(LogbookError, match=r"cannot be opened\. It stands beside the display file"):
        Logbook(tmp_path / "gone" / "display.toml.logbook")


def test_an_older_logbook_is_brought_up_to_date_and_keeps_its_entries(path: Path, write: Write):
    """Each migration is done once, in one go."""
    with Logbook(path) as book:
        written = book.append(write())
    later = (*KIND.migrations, ("CREATE TABLE weather (words TEXT)",))
    with Logbook(path, migrations=later) as book:
        assert book._connection.execute("PRAGMA user_version").fetchone() == (len(later),)
        assert book._connection.execute("SELECT count(*) FROM weather").fetchone() == (0,)
        assert book.entries() == written
    assert int.from_bytes(b"Ropw", "big") == APPLICATION_ID


def test_a_migration_that_fails_leaves_the_older_logbook_as_it_was(path: Path, write: Write):
    """All or nothing: the table of the first statement is not there either."""
    with Logbook(path) as book:
        written = book.append(write())
    with pytest.raises(LogbookError):
        Logbook(path, migrations=(*KIND.migrations, ("CREATE TABLE weather (words TEXT)", "NONSENSE")))
    with Logbook(path) as book:
        assert book.entries() == written
