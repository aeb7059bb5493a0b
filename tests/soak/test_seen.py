"""How a night stands, for somebody who looks on: only what its journal says."""

from dataclasses import replace
from pathlib import Path

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
    assert not looked(file, clocks.unix_s + 10).is_broken_off
    night = looked(file, clocks.unix_s + 600)
    assert night.is_broken_off
    assert "10 min ago" in night.lines(80)[1]
    assert "--resume" in night.lines(80)[1]


def test_a_run_that_has_ended_says_why(file: Path, clocks: Clocks):
    """However long ago."""
    with Journal(journal_path(file)) as journal:
        pen = journal.begin(facts(), *clocks.now)
        clocks.go(HOUR_S)
        pen.end(Ended(pen.clock.moment(*clocks.now), EndReason.STOPPED))
    night = looked(file, clocks.unix_s + HOUR_S)
    assert not night.is_running
    assert night.lines(80)[1] == "It has ended: stopped by hand."


@pytest.mark.parametrize("columns", [20, 40, 80, 200])
def test_the_bar_fits_its_line(file: Path, clocks: Clocks, columns: int):
    """On a narrow screen it is short."""
    with Journal(journal_path(file)) as journal:
        journal.begin(facts(), *clocks.now)
    assert len(looked(file, clocks.unix_s).lines(max(columns, 24))[0]) <= max(columns, 24)
