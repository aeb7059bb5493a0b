"""The report of a night on its sheet: the same verdict and events as on the command line, at every width."""

import subprocess
import sys
from pathlib import Path

import pytest
from textual.containers import VerticalScroll

from streamer.report.text import as_text
from streamer.soak.journal import Journal, journal_path
from streamer.soak.records import Ended, EndReason, EventKind
from tests.soak.conftest import Clocks, event, facts, sample
from tests.tui.sizes import SIZES
from tests.tui.stage import Open, Stage
from tui.reporting import reported


@pytest.fixture(name="file")
def _file(tmp_path: Path) -> Path:
    """Return a display file with two nights beside it: one that failed, and one that passed."""
    file = tmp_path / "display.toml"
    with Journal(journal_path(file)) as journal:
        for fails in (True, False):
            clocks = Clocks()
            pen = journal.begin(facts(asked_s=300), *clocks.now)
            for turn in range(60):
                clocks.go(5)
                pen.sample(sample(pen.clock.moment(*clocks.now)))
                if fails and turn == 20:
                    at = pen.clock.moment(*clocks.now)
                    pen.note(event(EventKind.LINK_DOWN, at, "[b]eth0\x1b[2J", words="cable out"))
                    clocks.go(1)
                    pen.close(EventKind.LINK_DOWN, "[b]eth0\x1b[2J", pen.clock.moment(*clocks.now))
            pen.end(Ended(pen.clock.moment(*clocks.now), EndReason.TIME_UP))
    return file


async def open_report(stage: Stage, file: Path | None) -> None:
    """Open the sheet, and wait for the thread."""
    stage.app.opened_file = file
    await stage.pilot.press("j")
    await read(stage)


async def read(stage: Stage) -> None:
    """Wait for the thread, and until what it read is shown."""
    await stage.app.workers.wait_for_complete()
    await stage.until(lambda: "being read" not in stage.text)


@pytest.mark.parametrize("size", SIZES)
async def test_the_verdict_stands_first(opened: Open, file: Path, size: tuple[int, int]):
    """At every size; the night that failed is one key away."""
    async with opened(size=size) as stage:
        await open_report(stage, file)
        assert "PASSED after 5 min at a level of 30 %, nothing to remark." in " ".join(stage.text.split())
        await stage.pilot.press("left")
        await read(stage)
        await stage.until(lambda: "FAILED" in stage.text)
        stage.check(f"report-{size[0]}x{size[1]}")
        await stage.pilot.press("left", "right")
        await read(stage)
        await stage.until(lambda: "PASSED" in stage.text)


@pytest.mark.parametrize("width", [80, pytest.param(40, marks=pytest.mark.slow)])
async def test_it_says_what_the_command_says(opened: Open, file: Path, width: int):
    """Line for line, as wide as the sheet lets it be; names from the journal are plain text."""
    async with opened(size=(width, 24)) as stage:
        await open_report(stage, file)
        await stage.pilot.press("left")
        await read(stage)
        await stage.until(lambda: "FAILED" in stage.text)
        await stage.pilot.resize_terminal(width, 150)
        await stage.pilot.pause()
        shown = [line.strip() for line in stage.text.splitlines()]
        room = stage.app.screen.query_one(VerticalScroll).query_one("ReportText").size.width
        for line in as_text(reported(file, 1).report, room).splitlines():
            assert line.strip() in shown, line
        assert any("[b]eth0" in line for line in shown)


async def test_a_display_without_a_night_is_told_with_what_to_do(opened: Open, tmp_path: Path):
    """On the sheet; j and Esc go back."""
    async with opened() as stage:
        for key in ("j", "escape"):
            await open_report(stage, tmp_path / "display.toml")
            assert "there is no run of a night in it. Begin one:" in " ".join(stage.text.split())
            await stage.pilot.press(key)
            await stage.until(lambda: len(stage.app.screen_stack) == 1)


async def test_a_display_from_no_file_has_no_journal(opened: Open):
    """It is said, and no sheet opens."""
    async with opened() as stage:
        await stage.pilot.press("j")
        await stage.pilot.pause()
        (told,) = stage.app._notifications
        assert "this display is from none" in told.message
        assert len(stage.app.screen_stack) == 1


def test_the_sheet_loads_no_arithmetic():
    """SciPy and matplotlib never come with the start or the sheet."""
    code = (
        "import sys, tui.app, tui.screens.report\n"
        "assert not {'scipy', 'matplotlib', 'numpy', 'psutil'} & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
