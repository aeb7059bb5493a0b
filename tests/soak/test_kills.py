"""kill -9 at random moments: nothing acknowledged is lost, the file is whole, and the run is taken up again.

A loss of power is played in `test_power_cut.py`.
"""

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from streamer.errors import JournalFullError
from streamer.soak.journal import Journal, reading
from streamer.soak.records import EventKind
from tests.disks import small_disk
from tests.soak.conftest import Clocks, facts, sample

ROOT = Path(__file__).parents[2]
WRITER = """
import os, sys, time
from pathlib import Path
sys.path.insert(0, "")
from tests.soak.conftest import event, facts, sample
from streamer.soak.journal import Journal
from streamer.soak.records import EventKind

def told(*words):
    os.write(1, (" ".join(map(str, words)) + "\\n").encode())

def now():
    return time.time(), time.monotonic()

with Journal(Path(sys.argv[1])) as journal:
    pen = journal.resume(*now()) or journal.begin(facts(), *now())
    told("begun", pen.number)
    for turn in range(int(sys.argv[3])):
        pen.sample(sample(pen.clock.moment(*now()), seed=turn % 10 / 10))
        told("sample", pen.number)
        pen.note(event(EventKind.CONTROLLER_GONE, pen.clock.moment(*now()), f"{sys.argv[2]}-{turn}"))
        told("opened", f"{sys.argv[2]}-{turn}")
        if turn % 3:
            pen.close(EventKind.CONTROLLER_GONE, f"{sys.argv[2]}-{turn}", pen.clock.moment(*now()))
            told("closed", f"{sys.argv[2]}-{turn}")
    time.sleep(600)
"""
MANY, FEW = 1_000_000, 20
"""Turns of a writer before it waits to be killed; few where the disk is small."""
KILLS_A_FILE = 10
LONGEST_S = 0.02
"""After the last acknowledgement that is waited for: some dozens of commits."""
STARTING_S = 1.0
"""A writer is up within this time: a kill within it may hit the making of the file, or a resume."""


class Writer:
    """A process that takes up the run, writes on, and acknowledges everything on standard output."""

    def __init__(self, path: Path, name: str, complaints: int | None = None, turns: int = MANY) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path), name, str(turns)],
            stdout=subprocess.PIPE,
            stderr=complaints,
            cwd=ROOT,
        )
        self._heard = b""

    def wait_for(self, acknowledged: int) -> None:
        """Wait until it has acknowledged so many."""
        assert self.process.stdout
        while self._heard.count(b"\n") < acknowledged:
            piece = os.read(self.process.stdout.fileno(), 65_536)
            assert piece, "the writer ended by itself"
            self._heard += piece

    def kill(self) -> list[tuple[str, str]]:
        """Kill it, as nothing can be done about, and return what it had acknowledged."""
        self.process.send_signal(signal.SIGKILL)
        heard = self.heard_until_it_ends()
        assert self.process.returncode == -signal.SIGKILL
        return heard

    def heard_until_it_ends(self) -> list[tuple[str, str]]:
        """Return what it had acknowledged when it ended."""
        assert self.process.stdout
        with self.process.stdout as rest:
            self._heard += rest.read()
        self.process.wait()
        lines = self._heard.decode().splitlines(keepends=True)
        return [(line.split()[0], line.split()[1]) for line in lines if line.endswith("\n")]


def is_whole(path: Path) -> bool:
    """Ask SQLite itself (PRAGMA integrity_check)."""
    connection = sqlite3.connect(path)
    try:
        return connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    finally:
        connection.close()


def check(path: Path, acknowledged: list[tuple[str, str]]) -> None:
    """Hold what is in the file against everything that was acknowledged since it was made."""
    told = {word: {name for kind, name in acknowledged if kind == word} for word in ("opened", "closed")}
    with reading(path) as reader:
        runs = reader.runs()
        events = reader.events(1)
        samples = list(reader.samples(1))
    opened = {each.subject for each in events if each.kind is EventKind.CONTROLLER_GONE}
    closed = {each.subject for each in events if each.ended_at is not None}
    gaps = [each for each in events if each.kind is EventKind.JOURNAL_GAP]
    assert told["opened"] <= opened, f"lost: {sorted(told['opened'] - opened)[:5]}"
    assert told["closed"] <= closed, f"lost: {sorted(told['closed'] - closed)[:5]}"
    assert sum(kind == "sample" for kind, _ in acknowledged) <= len(samples)
    assert len(runs) <= 1, "a run was begun where one was to be resumed"
    assert sum(kind == "begun" for kind, _ in acknowledged) - 1 <= len(gaps)
    times = [each.at.run_s for each in samples]
    assert times == sorted(times)


def kills(folder: Path, times: int) -> int:
    """Kill so many times; return how much was acknowledged, nothing of which was lost."""
    draw = random.Random(times)  # noqa: S311  a repeatable draw is the purpose
    path, acknowledged, total = folder, list[tuple[str, str]](), 0
    for turn in range(times):
        if turn % KILLS_A_FILE == 0:
            path, acknowledged = folder / f"{turn}.soak", []
        writer = Writer(path, str(turn))
        if turn % 5 == 0:
            time.sleep(draw.uniform(0, STARTING_S))
        else:
            writer.wait_for(draw.randint(1, 40))
            time.sleep(draw.uniform(0, LONGEST_S))
        new = writer.kill()
        acknowledged += new
        total += len(new)
        check(path, acknowledged)
        assert is_whole(path)
    return total


@pytest.mark.rig
def test_nothing_acknowledged_is_lost_by_kill_9_and_the_run_goes_on(tmp_path: Path):
    """A few times; the long one does it two hundred times."""
    assert kills(tmp_path, 6) > 0


@pytest.mark.long
def test_nothing_acknowledged_is_lost_in_two_hundred_and_fifty_kills(tmp_path: Path):
    """Killed while the file is made, while the run is taken up, between commits and within them."""
    acknowledged = kills(tmp_path, 250)
    print(f"250 kills: {acknowledged} acknowledged, 0 lost")  # noqa: T201  the result
    assert acknowledged > 2_500


@pytest.fixture(name="small_disk")
def _small_disk(tmp_path: Path) -> Iterator[Path]:
    """Mount a disk of 512 KiB."""
    with small_disk(tmp_path, 512) as disk:
        yield disk


@pytest.mark.rig
def test_a_disk_that_really_is_full_is_told_and_loses_nothing(small_disk: Path, clocks: Clocks):
    """What was kept is read while it is full; with room again the hole is said, and writing goes on."""
    path, ballast = small_disk / "display.toml.soak", small_disk / "film"
    with Journal(path) as journal:
        pen = journal.begin(facts(), *clocks.now)
        pen.sample(sample(pen.clock.moment(*clocks.now)))
        with pytest.raises(OSError, match="No space left"):
            ballast.write_bytes(bytes(1_000_000))
        kept, refused = 1, 0
        while refused < 3:
            clocks.go(5)
            try:
                pen.sample(sample(pen.clock.moment(*clocks.now)))
                kept += 1
            except JournalFullError:
                refused += 1
        with reading(path) as reader:
            assert len(list(reader.samples(1))) == kept
        ballast.unlink()
        clocks.go(5)
        pen.sample(sample(pen.clock.moment(*clocks.now)))
    with reading(path) as reader:
        assert len(list(reader.samples(1))) == kept + 1
        (hole,) = reader.events(1)
    assert (hole.kind, hole.length_s) == (EventKind.DISK_FULL, 15)
    assert hole.words == "the disk is full; 3 samples and 0 events were not kept"
    assert is_whole(path)


@pytest.mark.rig
def test_a_night_of_eight_hours_has_room_on_a_disk_of_two_megabytes(tmp_path: Path, clocks: Clocks):
    """What waits to be put into the file takes little beside it; with SQLite's own 4 MB it would be full."""
    with small_disk(tmp_path, 2_048) as disk:
        path = disk / "display.toml.soak"
        with Journal(path) as journal:
            pen = journal.begin(facts(), *clocks.now)
            for _ in range(8 * 3_600 // 5):
                clocks.go(5)
                pen.sample(sample(pen.clock.moment(*clocks.now)))
        with reading(path) as reader:
            assert len(list(reader.samples(1))) == 8 * 3_600 // 5


@pytest.mark.rig
def test_a_journal_in_a_folder_that_may_not_be_written_is_read_all_the_same(small_disk: Path):
    """From a stick that is write-protected, after a crash that left the write-ahead log behind."""
    path = small_disk / "display.toml.soak"
    writer = Writer(path, "one", turns=FEW)
    writer.wait_for(10)
    acknowledged = writer.kill()
    subprocess.run(["mount", "-o", "remount,ro", small_disk], check=True)
    check(path, acknowledged)
