"""The line of the moment while a night runs: how far, how long still, what is wrong, at every width."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from streamer.cli.night_text import event_line, moment_line, over_line
from streamer.soak.findings import Finding
from streamer.soak.records import Event, EventKind, Moment, Severity
from tests.soak.conftest import Clocks
from tests.soak.test_night import HOUR_S, Rig


@pytest.fixture(name="rig")
def _rig(tmp_path: Path) -> Iterator[Rig]:
    rig = Rig(tmp_path / "display.toml.soak", Clocks())
    rig.clocks.go(2 * HOUR_S - 10)
    rig.go(10)
    yield rig
    rig.night.close()
    rig.journal.close()


@pytest.mark.parametrize("columns", [24, 39, 79, 160])
@pytest.mark.parametrize("wrong", [0, 1, 3])
def test_the_moment_fits_its_line_and_says_how_long_still(rig: Rig, columns: int, wrong: int):
    """Two of eight hours: a quarter."""
    rig.watch.found = [Finding(EventKind.NOTE, str(number), "so") for number in range(wrong)]
    rig.go(1)
    line = moment_line(rig.night, columns)
    assert len(line) <= columns
    assert "25 %, 6 h left" in line
    assert ("WRONG" in line) == (wrong > 0)
    assert ("frames" in line) == (columns > 60)


def test_what_begins_and_what_is_over_have_a_line_each():
    """Names from outside are plain text."""
    began = Moment(1_764_540_000.0, 10.0)
    gone = Event(EventKind.CONTROLLER_GONE, "jetty\x1b[2J", "it answers no more", Severity.FAILURE, began)
    assert "! controller gone 'jetty" in event_line(gone)
    assert "\x1b" not in event_line(gone)
    ended = Moment(1_764_540_075.0, 85.0)
    over = Event(EventKind.CONTROLLER_GONE, "jetty", "it answers no more", Severity.FAILURE, began, ended)
    assert over_line(over).endswith("over: controller gone jetty, after 1 min 15 s")
