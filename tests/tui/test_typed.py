"""Sheets with text fields: Enter, and a tap on its keycap, overtake no letter, however quickly they come."""

from pathlib import Path

import pytest
from textual.events import Key
from textual.widgets import Input

from tests.tui.stage import PIER, Open, Stage
from tui.screens.line import Line
from tui.screens.place import PlaceSheet
from tui.widgets.keycap import Keycap


def type_at_once(stage: Stage, text: str, *keys: str) -> None:
    """Let keys come as from a paste or a stuck machine: all of them before the first is dealt with."""
    for each in (*text, *keys):
        stage.app.post_message(Key(each, each if len(each) == 1 else None))


async def tap_behind(stage: Stage, does: str) -> None:
    """Tap a keycap without waiting for what was typed."""
    (cap,) = (each for each in stage.app.screen.query(Keycap) if each.does == does)
    await cap.run_action(does)


async def open_line(stage: Stage) -> list[str | None]:
    """Ask for a line; return where the answers will be."""
    answers: list[str | None] = []
    stage.app.push_screen(Line("Note", "What?", 40), answers.append)
    await stage.until(lambda: isinstance(stage.app.screen, Line))
    return answers


async def test_enter_overtakes_no_letter_of_a_line(opened: Open):
    """And two of them answer once."""
    async with opened() as stage:
        answers = await open_line(stage)
        type_at_once(stage, "newlead", "enter", "enter")
        await stage.until(lambda: bool(answers))
        await stage.pilot.pause()
        assert answers == ["newlead"]
        assert len(stage.app.screen_stack) == 1


async def test_a_tap_overtakes_no_letter_of_a_line(opened: Open):
    """The tap is dealt with by the keycap itself, which has nothing else to do."""
    async with opened() as stage:
        answers = await open_line(stage)
        field = stage.app.screen.query_one(Input)
        for letter in "newlead":
            field.post_message(Key(letter, letter))
        await tap_behind(stage, "screen.write")
        await stage.until(lambda: bool(answers))
        assert answers == ["newlead"]


@pytest.mark.parametrize("by_tap", [False, True])
async def test_neither_overtakes_a_letter_of_where_the_lights_are(
    opened: Open, tmp_path: Path, *, by_tap: bool
):
    """The file that was typed is the one that is opened."""
    (tmp_path / "ab.toml").write_text("name = 1")
    async with opened(size=(120, 40)) as stage:
        await stage.pilot.press("d")
        await stage.until(lambda: isinstance(stage.app.screen, PlaceSheet))
        if by_tap:
            field = stage.app.screen.query_one("#display_file", Input)
            for letter in "ab.toml":
                field.post_message(Key(letter, letter))
            await tap_behind(stage, "screen.use")
        else:
            type_at_once(stage, "ab.toml", "enter")
        await stage.until_read("ab.toml:1")


async def test_two_enters_use_a_display_once(opened: Open, tmp_path: Path):
    """The second belongs to a sheet that is closing already: no run begins for it."""
    (tmp_path / "there.toml").write_text(PIER)
    async with opened(size=(120, 40)) as stage:
        await stage.pilot.press("d")
        await stage.until(lambda: isinstance(stage.app.screen, PlaceSheet))
        sheet = stage.app.screen
        sheet.query_one("#display_file", Input).value = "there.toml"
        type_at_once(stage, "", "enter", "enter")
        await stage.until(lambda: stage.setup.display.name == "pier")
        await stage.pilot.pause()
        assert not stage.engine.asked


def test_every_sheet_with_a_field_waits_for_it():
    """One way for all: whichever sheet has a text field does what Enter means by `once_typed`."""
    import tui.screens

    folder = Path(tui.screens.__file__).parent
    with_fields = {each.name for each in folder.glob("*.py") if "Input(" in each.read_text("utf-8")}
    waiting = {each.name for each in folder.glob("*.py") if "self.once_typed(" in each.read_text("utf-8")}
    assert with_fields == {"line.py", "night.py", "place.py"}
    assert with_fields <= waiting
