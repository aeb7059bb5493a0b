"""The logbook on the screen: what is open first, with when; a pen; and what no longer holds."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from streamer.display.file import load
from streamer.logbook.findings import found
from streamer.logbook.pens import penned
from streamer.logbook.records import Entry, Kind, Sort, Verdict
from streamer.logbook.store import Logbook, logbook_path, read_logbook
from tests.tui.sizes import SIZES
from tests.tui.stage import Open, Stage
from tests.tui.test_asking import write_file
from tests.tui.test_rounds import TWO
from tui.screens.log import LogSheet

AT = datetime(2026, 11, 28, 18, 4, tzinfo=UTC)
BREAK = "Break between node 7 and 8: in segment 1."


async def open_log(stage: Stage, folder: Path) -> Path:
    """Choose a file whose second string is at fault and whose first was proven before the file changed."""
    path = await write_file(stage, folder)
    path.write_text(TWO.replace("universe = 1\n", "universe = 5\n"))
    before = load(path)
    proof = penned(before, Kind.NOTE, "pier/1", "x", AT)
    with Logbook(logbook_path(path)) as book:
        book.append(
            Entry(
                at=AT, kind=Kind.ANSWER, sort=Sort.STRING, name="pier/1", look="level",
                verdict=Verdict.PROVEN, fingerprint=proof.fingerprint,
            ),
            found(before, "pier/2", BREAK, AT, is_fault=True),
        )  # fmt: skip
    path.write_text(TWO)
    await stage.pilot.press("d", "enter")
    await stage.until(lambda: stage.setup.display == load(path))
    await stage.pilot.press("f3")
    await stage.until(lambda: isinstance(stage.app.screen, LogSheet))
    await stage.pilot.pause()
    return path


@pytest.mark.parametrize("size", SIZES)
async def test_the_punch_list_is_first_and_says_what_no_longer_holds(
    opened: Open, tmp_path: Path, size: tuple[int, int]
):
    """At fault, then the proof that rested on another universe; each with its moment."""
    async with opened(size=size) as stage:
        await open_log(stage, tmp_path)
        stage.check(f"log-{size[0]}x{size[1]}")


async def test_what_is_mended_is_noted_about_the_chosen_string(opened: Open, tmp_path: Path):
    """X, a line, Enter: it is in the logbook, and the string is to be proven again."""
    async with opened() as stage:
        path = await open_log(stage, tmp_path)
        await stage.pilot.press("x")
        await stage.until(lambda: "What was done about pier/2?" in stage.text)
        await stage.pilot.press(*"new", "space", *"lead", "enter")
        await stage.until(lambda: "Fixed but not proven again: 1" in stage.text)
        entry = read_logbook(logbook_path(path))[-1]
        assert (entry.kind, entry.name, entry.words) == (Kind.FIXED, "pier/2", "new lead")


async def test_without_a_display_file_it_says_what_to_do(opened: Open):
    """There is no file that a logbook could be beside."""
    async with opened() as stage:
        await stage.pilot.press("f3")
        await stage.until(lambda: "A logbook is kept beside a display file" in stage.text)
        assert len(stage.app.screen_stack) == 1
