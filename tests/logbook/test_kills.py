"""kill -9 at random moments: nothing that was acknowledged is lost, and the file is whole.

A loss of power cannot be played on a running system; for that the settings are SQLite's own for durability,
which `test_store.py` holds.
"""

import itertools
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from streamer.errors import LogbookError
from streamer.logbook.records import Entry, Kind, Sort
from streamer.logbook.store import Logbook, logbook_path, read_logbook
from tests.disks import small_disk

ROOT = Path(__file__).parents[2]
WRITER = """
import os, sys, time
from datetime import UTC, datetime
from pathlib import Path
from streamer.logbook.records import Entry, Kind, Sort
from streamer.logbook.store import Logbook

path, name = Path(sys.argv[1]), sys.argv[2]
sys.stdin.readline()
with Logbook(path) as book:
    for turn in range(int(sys.argv[3])):
        entry = Entry(at=datetime.now(UTC), kind=Kind.NOTE, sort=Sort.STRING, name=name, words=str(turn))
        (written,) = book.append(entry)
        os.write(1, f"{written.number} {name} {turn}\\n".encode())
    time.sleep(600)
"""
MANY, FEW = 1_000_000, 60
"""Entries of a writer before it waits to be killed; few where the disk is small."""
ENTRIES = [
    Entry(
        at=datetime(2026, 11, 28, tzinfo=UTC), kind=Kind.NOTE, sort=Sort.STRING, name="one", words="w" * 500
    )
    for _ in range(20)
]
KILLS_A_FILE = 10
LONGEST_S = 0.02
"""After the last acknowledgement that is waited for: some dozens of commits."""
STARTING_S = 0.5
"""A writer is up within this time: a kill within it may hit the making of the file."""


class Writer:
    """A process that writes entries one by one, and acknowledges each on standard output."""

    def __init__(self, path: Path, name: str, entries: int = MANY) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path), name, str(entries)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            cwd=ROOT,
        )
        self._heard = b""

    def go(self) -> None:
        """Let it begin, once it is up."""
        assert self.process.stdin
        with self.process.stdin as starter:
            starter.write(b"\n")

    def wait_for(self, acknowledged: int) -> None:
        """Wait until it has acknowledged so many."""
        assert self.process.stdout
        while self._heard.count(b"\n") < acknowledged:
            piece = os.read(self.process.stdout.fileno(), 65_536)
            assert piece, "the writer ended by itself"
            self._heard += piece

    def kill(self) -> None:
        """Kill it, as nothing can be done about."""
        self.process.send_signal(signal.SIGKILL)

    def acknowledged(self) -> set[tuple[int, str, str]]:
        """Return what it has acknowledged before it died."""
        assert self.process.stdout
        with self.process.stdout as rest:
            self._heard += rest.read()
        assert self.process.wait() == -signal.SIGKILL
        lines = self._heard.decode().splitlines(keepends=True)
        whole = [line.split() for line in lines if line.endswith("\n")]
        return {(int(number), name, turn) for number, name, turn in whole}


@pytest.fixture(name="path")
def _path(tmp_path: Path) -> Path:
    return logbook_path(tmp_path / "display.toml")


def is_whole(path: Path) -> bool:
    """Ask SQLite itself (PRAGMA integrity_check)."""
    connection = sqlite3.connect(path)
    try:
        return connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    finally:
        connection.close()


def kills(path: Path, times: int, writers: int) -> int:
    """Kill so many times; return how many entries were acknowledged, none of which was lost."""
    draw = random.Random(f"{times} {writers}")  # noqa: S311  a repeatable draw is the purpose
    kept: set[tuple[int, str, str]] = set()
    total = 0
    for turn in range(times):
        if turn % KILLS_A_FILE == 0:
            path = path.with_name(f"{turn}.logbook")
            total, kept = total + len(kept), set()
        at_work = [Writer(path, f"{turn}-{number}") for number in range(writers)]
        for writer in at_work:
            writer.go()
        if turn % 5 == 0:
            time.sleep(draw.uniform(0, STARTING_S))
        else:
            for writer in at_work:
                writer.wait_for(draw.randint(1, 40))
            time.sleep(draw.uniform(0, LONGEST_S))
        for writer in at_work:
            writer.kill()
        for writer in at_work:
            kept |= writer.acknowledged()
        there = {(entry.number, entry.name, entry.words) for entry in read_logbook(path)}
        assert kept <= there, f"lost after {turn + 1} kills: {sorted(kept - there)[:5]}"
        assert is_whole(path)
    return total + len(kept)


@pytest.mark.parametrize("writers", [1, pytest.param(2, marks=pytest.mark.slow)])
def test_nothing_acknowledged_is_lost_by_kill_9(path: Path, writers: int):
    """A few times; the rig does it a hundred times."""
    assert kills(path, 4, writers) > 0


@pytest.mark.long
@pytest.mark.parametrize(("writers", "times"), [(1, 100), (2, 50)])
def test_nothing_acknowledged_is_lost_in_a_hundred_kills(path: Path, writers: int, times: int):
    """One writer, or two at once, killed while the file is made, between commits and within them."""
    acknowledged = kills(path, times, writers)
    print(f"{writers} at once, {times} times: {acknowledged} acknowledged, 0 lost")  # noqa: T201  the result
    assert acknowledged > 1_000


@pytest.mark.long
def test_two_programs_make_one_logbook_at_the_same_moment(tmp_path: Path):
    """Both come through, and nobody's entries are missing."""
    for turn in range(10):
        path = logbook_path(tmp_path / f"display{turn}.toml")
        both = [Writer(path, name) for name in ("one", "other")]
        for writer in both:
            writer.go()
        for writer in both:
            writer.wait_for(5)
        for writer in both:
            writer.kill()
        kept = both[0].acknowledged() | both[1].acknowledged()
        assert kept <= {(entry.number, entry.name, entry.words) for entry in read_logbook(path)}


@pytest.fixture(name="small_disk")
def _small_disk(tmp_path: Path) -> Iterator[Path]:
    """Mount a disk of 256 KiB."""
    with small_disk(tmp_path, 256) as disk:
        yield disk


@pytest.mark.rig
def test_a_disk_that_really_is_full_is_told_and_loses_nothing(small_disk: Path):
    """And there is room again once something else has gone."""
    path = logbook_path(small_disk / "display.toml")
    ballast = small_disk / "film"
    with Logbook(path) as book:
        written = list(book.append(*ENTRIES))
        with pytest.raises(OSError, match="No space left"):
            ballast.write_bytes(bytes(1_000_000))
        more = (book.append(*ENTRIES) for _ in itertools.count())
        with pytest.raises(LogbookError, match="the disk is full"):
            written.extend(entry for each in more for entry in each)
        assert list(book.entries()) == written
        ballast.unlink()
        written += book.append(*ENTRIES)
    assert list(read_logbook(path)) == written
    assert is_whole(path)


@pytest.mark.rig
def test_a_logbook_in_a_folder_that_may_not_be_written_is_read_all_the_same(small_disk: Path):
    """From a stick that is write-protected, after a crash that left the write-ahead log behind."""
    path = logbook_path(small_disk / "display.toml")
    writer = Writer(path, "one", FEW)
    writer.go()
    writer.wait_for(5)
    writer.kill()
    kept = writer.acknowledged()
    subprocess.run(["mount", "-o", "remount,ro", small_disk], check=True)
    assert kept <= {(entry.number, entry.name, entry.words) for entry in read_logbook(path)}
    with pytest.raises(LogbookError, match=r"may not be written|cannot be opened"):
        Logbook(path)
