"""Choosing where the lights are: a file, universes, the sample; and everything that is wrong with one."""

from pathlib import Path

import pytest
from textual.widgets import Input

from streamer.display.model import MULTICAST, Protocol
from streamer.display.sample import sample_display
from streamer.errors import PlanError
from tests.tui.sizes import SIZES
from tests.tui.stage import PIER, Open, Stage
from tui.widgets.dial import Dial

WRONG = """
[display]
name = 7

[[controllers]]
name = "jetty"
protocol = "smoke signals"
"""


async def open_sheet(stage: Stage) -> None:
    """Open the sheet."""
    await stage.pilot.press("d")
    await stage.until(lambda: "Where the lights are" in stage.text)


def turn_to(stage: Stage, field: str, value: str) -> None:
    """Turn a dial until it stands at a value."""
    dial = next(each for each in stage.app.screen.query(Dial) if each.field == field)
    for _ in dial.choices:
        if dial.value == value:
            return
        dial.action_turn(1)
    raise AssertionError(f"{field} never comes to {value}")


async def write(stage: Stage, field: str, text: str) -> None:
    """Write into a text field."""
    entry = stage.app.screen.query_one(f"#{field}", Input)
    entry.value = text
    entry.focus()
    await stage.pilot.pause()


async def test_a_wrong_file_shows_all_its_problems_at_once(opened: Open, tmp_path: Path):
    """Every problem is there with its line and what to write instead, and nothing is changed."""
    (tmp_path / "wrong.toml").write_text(WRONG)
    from streamer.display.file import load

    with pytest.raises(PlanError) as caught:
        load(Path("wrong.toml"))
    problems = caught.value.problems
    assert len(problems) > 1
    async with opened(size=(99, 60)) as stage:
        before = stage.app.talk.setup
        await open_sheet(stage)
        await write(stage, "display_file", "wrong.toml")
        await stage.pilot.press("enter")
        await stage.until(lambda: f"{len(problems)} to put right" in stage.text)
        verdict = " ".join(str(stage.app.screen.query_one("#verdict").render()).split())
        for problem in problems:
            for words in (problem.what, problem.instead):
                assert " ".join(words.split()) in verdict
            assert str(problem.line) in verdict
        await stage.pilot.press("escape")
        assert stage.app.talk.setup is before


async def test_a_missing_file_is_told(opened: Open):
    """A path that leads nowhere is a sentence, not a crash."""
    async with opened() as stage:
        await open_sheet(stage)
        await write(stage, "display_file", "nowhere.toml")
        await stage.pilot.press("enter")
        await stage.until(lambda: "1 to put right" in stage.text)
        assert "nowhere.toml" in stage.text


async def test_a_range_of_universes_becomes_the_display(opened: Open, monkeypatch: pytest.MonkeyPatch):
    """Universes, protocol, address, nodes and interface of the sheet are the setup's; nothing is sent."""
    async with opened() as stage:
        monkeypatch.setattr(stage.app, "_interfaces", lambda: ("lo",))
        await open_sheet(stage)
        turn_to(stage, "source", "universes")
        turn_to(stage, "protocol", "artnet")
        turn_to(stage, "interface", "lo")
        await write(stage, "universes", "1-2,7")
        await write(stage, "address", "127.0.0.9")
        await stage.pilot.press("enter")
        await stage.until(lambda: len(stage.app.screen_stack) == 1)
        setup = stage.setup
        assert [port.universe for port in setup.display.ports] == [1, 2, 7]
        assert setup.display.controllers[0].protocol is Protocol.ARTNET
        assert setup.display.controllers[0].address == "127.0.0.9"
        assert setup.interface == "lo"
        assert {port.nodes for port in setup.display.ports} == {170}
        assert stage.engine.asked == []


async def test_a_wrong_range_is_told(opened: Open):
    """Universe 0 does not exist in E1.31 (ANSI E1.31-2018 clause 6.2.7 counts from 1)."""
    async with opened() as stage:
        await open_sheet(stage)
        turn_to(stage, "source", "universes")
        await write(stage, "universes", "0")
        await write(stage, "address", MULTICAST)
        await stage.pilot.press("enter")
        await stage.until(lambda: "to put right" in stage.text)


async def test_another_display_ends_the_run_of_the_old_one(opened: Open):
    """A run does not go on unseen once another display is chosen; and the new one is not started."""
    async with opened() as stage:
        await stage.start()
        await open_sheet(stage)
        turn_to(stage, "source", "sample")
        stage.app.screen.query_one(Dial).focus()
        await stage.pilot.press("enter")
        await stage.until(lambda: "Idle" in stage.text)
        assert [type(each).__name__ for each in stage.engine.asked] == ["Play", "Stop"]


async def test_the_choices_are_remembered(opened: Open):
    """Theme, pattern, interface and file of the last time are there the next time; transmitting is not."""
    async with opened() as stage:
        await stage.pilot.press("n")
        await open_sheet(stage)
        turn_to(stage, "source", "universes")
        await write(stage, "universes", "5")
        await write(stage, "address", "127.0.0.1")
        await stage.pilot.press("enter")
        await stage.until(lambda: len(stage.app.screen_stack) == 1)
    async with opened(has_display=False) as stage:
        assert stage.app.theme == "sailcloth"
        assert stage.app.memory.universes == "5"
        assert [port.universe for port in stage.setup.display.ports] == [5]
        assert stage.app.memory.pattern == "walk"
        assert stage.engine.asked == []


def dial(stage: Stage, field: str) -> Dial:
    """Return a dial of the sheet."""
    return next(each for each in stage.app.screen.query(Dial) if each.field == field)


async def open_file(stage: Stage, path: Path) -> None:
    """Put a display file in hand, as `ropewalk ui FILE` does."""
    from streamer.display.file import load

    stage.app.opened_file = path
    stage.app.talk.setup = stage.setup.model_copy(update={"display": load(path)})
    stage.app.tell()
    await stage.pilot.pause()


@pytest.mark.parametrize("size", SIZES)
async def test_the_open_file_is_named_and_listed(opened: Open, tmp_path: Path, size: tuple[int, int]):
    """One of this folder stands among those found, and Enter uses it again as it is in its file now."""
    path = tmp_path / "pier.toml"
    path.write_text(PIER)
    async with opened(size=size) as stage:
        await open_file(stage, path)
        await open_sheet(stage)
        await stage.until_read("Open now: pier, from ")
        assert dial(stage, "found").value == "pier.toml"
        assert Path(stage.app.screen.query_one("#display_file", Input).value) == path
        path.write_text(PIER.replace("nodes = 50", "nodes = 49"))
        await stage.pilot.press("enter")
        await stage.until(lambda: len(stage.app.screen_stack) == 1)
        assert stage.setup.display.ports[0].nodes == 49


async def test_an_open_file_of_another_folder_is_listed_too(opened: Open, tmp_path: Path):
    """By the name by which it was opened, before those that are here; another may be chosen all the same."""
    folder = tmp_path / "elsewhere"
    folder.mkdir()
    (folder / "pier.toml").write_text(PIER)
    (tmp_path / "here.toml").write_text(PIER)
    async with opened() as stage:
        await open_file(stage, Path("elsewhere/pier.toml"))
        await open_sheet(stage)
        await stage.until_read("from elsewhere/pier.toml")
        found = dial(stage, "found")
        assert (found.value, found.choices) == (
            "elsewhere/pier.toml",
            ("none", "elsewhere/pier.toml", "here.toml"),
        )
        turn_to(stage, "found", "here.toml")
        await stage.until(lambda: stage.app.screen.query_one("#display_file", Input).value == "here.toml")


async def test_a_display_from_no_file_says_so(opened: Open):
    """Nothing is taken for the open one."""
    async with opened() as stage:
        await open_sheet(stage)
        await stage.until_read("Open now: boathouse, from no file")
        assert dial(stage, "found").value == "none"


@pytest.mark.parametrize("size", [(80, 24), (40, 24)])
async def test_the_sample_says_what_it_is_and_how_to_begin_a_file(opened: Open, size: tuple[int, int]):
    """Nobody has changed a file: there is none."""
    async with opened(size=size, display=sample_display()) as stage:
        await open_sheet(stage)
        await stage.until_read(
            "the sample, which needs no file; ropewalk new display.toml begins one of your own."
        )
        assert "changed" not in stage.text


async def test_universes_say_that_they_are_from_no_file(opened: Open):
    """They are below, to be changed."""
    async with opened() as stage:
        await open_sheet(stage)
        turn_to(stage, "source", "universes")
        await write(stage, "universes", "5")
        await stage.pilot.press("enter")
        await stage.until(lambda: len(stage.app.screen_stack) == 1)
        await open_sheet(stage)
        await stage.until_read("made of the universes below, from no file")


async def test_a_file_that_was_changed_since_it_was_opened_says_so(opened: Open, tmp_path: Path):
    """What is played is not what stands in it."""
    async with opened() as stage:
        (tmp_path / "pier.toml").write_text(PIER)
        await open_file(stage, Path("pier.toml"))
        (tmp_path / "pier.toml").write_text(PIER.replace("50", "49"))
        await open_sheet(stage)
        await stage.until_read("Open now: pier, from no file, or one changed since")
