"""How a night stands, for somebody who looks on: only what its journal says."""

import subprocess
from dataclasses import replace
from pathlib import Path

import psutil
import pytest

from streamer.soak.journal import Journal, journal_path
from streamer.soak.records import Ended, EndReason, EventKind, Severity
from streamer.soak.seen import Seen, seen
from tests.soak.conftest import Clocks, event, facts, sample

HOUR_S = 3600.0


@pytest.fixture(name="file")
def _file(tmp_path: Path) -> Path:
    return tmp_path / "display.toml"


def looked(file: Path, now_s: float) -> Seen:
    """Return how it stands."""
    night = seen(file, now_s)
    assert night is not None
    return night


def test_without_a_run_there_is_nothing_to_see(file: Path):
    """And nothing is made by looking."""
    assert seen(file, 0.0) is None
    assert list(file.parent.iterdir()) == []


def test_a_programme_of_another_version_is_not_guessed_at(file: Path, clocks: Clocks):
    """It may have parts that this one does not know."""
    with Journal(journal_path(file)) as journal:
        journal.begin(replace(facts(), programme="waltz:3m"), *clocks.now)
    assert "Showing" not in "".join(looked(file, clocks.unix_s).lines(40))


def test_a_run_of_eight_hours_after_two(file: Path, clocks: Clocks):
    """A quarter of the bar, six hours left, and what is wrong by name."""
    with Journal(journal_path(file)) as journal:
        pen = journal.begin(facts(), *clocks.now)
        clocks.go(2 * HOUR_S)
        at = pen.clock.moment(*clocks.now)
        pen.note(event(EventKind.LINK_DOWN, at, "eth0", words="it is switched off"))
        pen.note(event(EventKind.NOTE, at, severity=Severity.REMARK, ended_at=at))
        pen.sample(sample(at))
    night = looked(file, clocks.unix_s)
    assert night.is_running
    assert night.lines(40) == (
        "[" + "#" * 5 + "." * 18 + "] 25 %, 6 h left",
        "Showing dark for 1 min more, at 30 %.",
        "Wrong just now:",
        "! link down eth0: it is switched off",
        "So far: failures 1, remarks 1.",
    )


def test_a_run_that_writes_no_more_was_broken_off(file: Path, clocks: Clocks):
    """It says since when, and how to go on."""
    with Journal(journal_path(file)) as journal:
        pen = journal.begin(facts(), *clocks.now)
        pen.sample(sample(pen.clock.moment(*clocks.now)))
    assert not looked(file, clocks.unix_s + 6).is_broken_off
    night = looked(file, clocks.unix_s + 600)
    assert night.is_broken_off
    assert night.may_go_on
    bar, told, _ = night.lines(80)
    assert "7 h 50 min left" in bar
    assert told == "It was broken off at 22:00:00, 10 min ago. Of what was since then nothing is known."


def test_a_run_whose_time_is_over_is_not_gone_on_with(file: Path, clocks: Clocks):
    """Eight hours after its beginning."""
    with Journal(journal_path(file)) as journal:
        journal.begin(facts(), *clocks.now)
    assert looked(file, clocks.unix_s + 8 * HOUR_S - 1).may_go_on
    night = looked(file, clocks.unix_s + 8 * HOUR_S)
    assert night.is_broken_off
    assert not night.may_go_on
    assert "its time is over" in night.lines(80)[1]


def test_a_run_that_was_taken_up_again_tells_its_gap(file: Path, clocks: Clocks):
    """From when to when by the clock on the wall where it was begun."""
    with Journal(journal_path(file)) as journal:
        pen = journal.begin(facts(), *clocks.now)
        pen.sample(sample(pen.clock.moment(*clocks.now)))
    clocks.go(600)
    with Journal(journal_path(file)) as journal:
        again = journal.resume(*clocks.now)
        assert again is not None
        again.sample(sample(again.clock.moment(*clocks.now)))
    told = "Broken off and taken up again: nothing is known of 22:00:00 to 22:10:00."
    assert told in looked(file, clocks.unix_s).lines(80)


def test_a_run_whose_process_lives_is_not_broken_off_however_long_it_writes_nothing(
    file: Path, clocks: Clocks
):
    """As while the disk is full: its process number and when that began are in the journal."""
    with Journal(journal_path(file)) as journal, subprocess.Popen(["sleep", "60"]) as other:
        journal.begin(facts(), *clocks.now)
        writer = f"{other.pid} {psutil.Process(other.pid).create_time()}"
        journal._connection.execute("UPDATE runs SET writer = ?", (writer,))
        night = looked(file, clocks.unix_s + 600)
        assert night.is_running
        assert "It goes on, but has written nothing for 10 min" in " ".join(night.lines(80))
        other.kill()
        other.wait()
        assert looked(file, clocks.unix_s + 600).is_broken_off


def test_a_run_that_has_ended_says_why(file: Path, clocks: Clocks):
    """However long ago."""
    with Journal(journal_path(file)) as journal:
        pen = journal.begin(facts(), *clocks.now)
        clocks.go(HOUR_S)
        pen.end(Ended(pen.clock.moment(*clocks.now), EndReason.STOPPED))
    night = looked(file, clocks.unix_s + HOUR_S)
    assert not night.is_running
    assert night.lines(80)[0] == "It has ended: stopped by hand."


def test_a_run_that_could_not_begin_says_what_stands_against_which_controller(file: Path, clocks: Clocks):
    """Where it was begun on a screen, nobody sees what the command says."""
    words = "it could not begin: controller jetty at fe80::20%eth9: no such interface.\nChoose one of: lo"
    with Journal(journal_path(file)) as journal:
        pen = journal.begin(facts(), *clocks.now)
        pen.end(Ended(pen.clock.moment(*clocks.now), EndReason.FAILED, words))
    (told, _) = looked(file, clocks.unix_s).lines(80)
    assert told == f"It has ended: could not go on: {words.replace(chr(10), ' ')}."


@pytest.mark.parametrize("columns", [20, 40, 80, 200])
def test_the_bar_fits_its_line(file: Path, clocks: Clocks, columns: int):
    """On a narrow screen it is short."""
    with Journal(journal_path(file)) as journal:
        journal.begin(facts(), *clocks.now)
    assert len(looked(file, clocks.unix_s).lines(max(columns, 24))[0]) <= max(columns, 24)
