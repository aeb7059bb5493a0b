"""The asking sheet: a search and a walk, led by one key an answer; the lights are given back as they were."""

from collections.abc import Callable, Sized
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from textual.widgets import Input

from streamer.engine.messages import Change, Dark, Jump, Play, Refusal, Refused, State, Stop
from streamer.find.rows import Row
from streamer.logbook.records import Kind, Verdict
from streamer.logbook.store import logbook_path, read_logbook
from tests.tui.sizes import PHONE, USUAL, large
from tests.tui.stage import PIER, Open, Stage
from tui.screens.asking import Asking

SIZES = (USUAL, PHONE, large(120, 40))


async def open_find(stage: Stage) -> None:
    """Open the search on the first port."""
    await stage.pilot.press("w")
    await stage.until(lambda: "What's wrong?" in stage.text)
    await stage.pilot.press("enter")
    await until_asked(stage, "Look 1")


async def until_asked(stage: Stage, place: str) -> None:
    """Wait until a look is up and its question can be answered."""

    def is_asked() -> bool:
        sheet = stage.app.screen
        is_open = isinstance(sheet, Asking) and not sheet._is_closed and not sheet._is_thinking
        return is_open and place in stage.text

    await stage.until(is_asked)


async def answer_as(stage: Stage, is_that_row: Callable[[Row], bool]) -> None:
    """Answer every look as somebody would who sees the fault; return when the verdict is told."""
    sheet = stage.app.screen
    assert isinstance(sheet, Asking)
    session: Any = sheet._leader._session
    finding = getattr(session, "_search", session)._finding
    table = finding.bench.table
    row = next(index for index, each in enumerate(table.rows) if is_that_row(each))
    for _ in range(30):
        await until_asked(stage, "")
        if finding.look is None:
            return
        seen = finding.bench.chooser.predicted(finding.look, table.columns)
        looks = len(finding.steps)
        await stage.pilot.press(str(int(seen[row])))
        await stage.until(partial(_is_longer, finding.steps, looks))
    raise AssertionError("no verdict")


def _is_longer(steps: Sized, than: int) -> bool:
    return len(steps) > than


@pytest.mark.parametrize("size", SIZES)
async def test_find(opened: Open, size: tuple[int, int]):
    """The first question of a search."""
    async with opened(size=size) as stage:
        await open_find(stage)
        await stage.pilot.pause()
        stage.check(f"find-{size[0]}x{size[1]}")


@pytest.mark.slow
async def test_what_was_refused_before_is_not_in_the_way_of_the_question(opened: Open):
    """It is still among the words afterwards."""
    async with opened(size=(80, 24)) as stage:
        await stage.start()
        stage.engine.say(
            Refused(request="change", why=Refusal.NO_CONTROL, reason="Somebody else holds control.")
        )
        await stage.until(lambda: "Somebody else holds control" in stage.text)
        await open_find(stage)
        assert "Somebody else holds control" not in stage.text
        await stage.pilot.press("escape")
        await stage.until(lambda: not isinstance(stage.app.screen, Asking))
        await stage.pilot.press("e")
        await stage.until(lambda: "Errors and refusals" in stage.text)
        assert "Somebody else holds control" in stage.text


@pytest.mark.parametrize("size", [USUAL, pytest.param(PHONE, marks=pytest.mark.slow), large(120, 40)])
async def test_a_search_answered_by_number_keys_names_the_break(opened: Open, size: tuple[int, int]):
    """The right answers lead to the break after node 57, with what to check in order."""
    async with opened(size=size) as stage:
        await open_find(stage)
        await answer_as(stage, lambda row: str(row.kind) == "break" and row.reach == 57)
        await stage.pilot.pause()
        assert "57" in stage.text
        stage.check(f"found-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", SIZES)
async def test_prove(opened: Open, size: tuple[int, int]):
    """The first look of a walk; without a display file it says that nothing is kept."""
    async with opened(size=size) as stage:
        await stage.pilot.press("g")
        await until_asked(stage, "Look 1 of")
        await stage.pilot.pause()
        stage.check(f"prove-{size[0]}x{size[1]}")


async def test_the_lights_are_given_back_as_they_were(opened: Open):
    """What was in hand is in hand again, the same pattern on the same display at the same step."""
    async with opened() as stage:
        await stage.start()
        await stage.pilot.press("3", "7", "enter")
        await stage.until(lambda: stage.app.talk.status.step == 36)
        before = stage.setup, stage.app.talk.show
        await open_find(stage)
        await stage.pilot.press("1")
        await until_asked(stage, "Look 2")
        asked = [each for each in stage.engine.asked if isinstance(each, Play | Change)]
        assert [each.show.pattern for each in asked] == ["walk", "picture", "picture"]
        assert isinstance(asked[1], Play)
        assert asked[1].setup.display != stage.display
        await stage.pilot.press("escape")
        await stage.until(lambda: stage.app.talk.status.step == 36 and len(stage.app.screen_stack) == 1)
        assert (stage.setup, stage.app.talk.show) == before
        assert stage.app.talk.plan is not None
        assert stage.app.talk.plan.setup == stage.setup
        assert stage.engine.asked[-2:] == [Play(setup=before[0], show=before[1]), Jump(step=36)]


async def test_what_was_idle_is_idle_again(opened: Open):
    """A search out of the dark ends in the dark, and the chosen pattern is still the chosen one."""
    async with opened() as stage:
        await open_find(stage)
        await stage.pilot.press("escape")
        await stage.until(lambda: stage.app.talk.status.state is State.IDLE)
        assert stage.engine.asked[-1] == Stop()
        assert stage.app.talk.show.pattern == "walk"
        assert stage.setup.display == stage.display


async def test_what_comes_after_it_was_left_finds_nothing_to_do(opened: Open):
    """News, the time to see a verdict, the yard's lights: each may come while the parts of the sheet go."""
    async with opened() as stage:
        await open_find(stage)
        sheet = stage.app.screen
        assert isinstance(sheet, Asking)
        await stage.pilot.press("escape")
        await stage.until(lambda: not sheet.is_attached)
        asked = len(stage.engine.asked)
        sheet._follow()
        sheet._open_answers()
        sheet._see_arrivals()
        await stage.pilot.pause()
        assert len(stage.engine.asked) == asked


async def test_space_is_dark_while_it_asks_and_stays_dark_afterwards(opened: Open):
    """The largest key means darkness on this sheet too, and leaving it lights nothing again."""
    async with opened() as stage:
        await stage.start()
        await open_find(stage)
        await stage.pilot.press("space")
        await stage.until(lambda: "Space brings" in stage.text)
        await stage.pilot.press("escape")
        await stage.until(lambda: len(stage.app.screen_stack) == 1)
        assert stage.engine.asked[-1] == Dark(on=True)


async def test_what_is_dark_stays_dark_when_a_search_begins(opened: Open):
    """Whoever made it dark may be at the wiring: only Space lights it."""
    async with opened() as stage:
        await stage.start()
        await stage.pilot.press("space")
        await stage.until(lambda: stage.app.talk.status.state is State.DARK)
        asked = len(stage.engine.asked)
        await open_find(stage)
        await stage.until(lambda: "Space brings" in stage.text)
        first, *_, last = stage.engine.asked[asked:]
        assert isinstance(first, Play)
        assert last == Dark(on=True)


async def test_an_answer_can_be_taken_back(opened: Open):
    """Backspace brings the same look and question again."""
    async with opened() as stage:
        await open_find(stage)
        before = stage.text
        await stage.pilot.press("3")
        await until_asked(stage, "Look 2")
        await stage.pilot.press("backspace")
        await until_asked(stage, "Look 1")
        assert stage.text == before


async def write_file(stage: Stage, folder: Path) -> Path:
    """Choose a display file by the sheet, as a person does."""
    path = folder / "pier.toml"
    path.write_text(PIER)
    await stage.pilot.press("d")
    await stage.until(lambda: len(stage.app.screen_stack) == 2)
    entry = stage.app.screen.query_one("#display_file", Input)
    entry.value = path.name
    entry.focus()
    await stage.pilot.press("enter")
    await stage.until(lambda: len(stage.app.screen_stack) == 1)
    return path


async def test_a_walk_goes_on_where_it_was_left(opened: Open, tmp_path: Path):
    """Each answer is on the disk before the next look; the sheet opened again asks the next question."""
    async with opened() as stage:
        path = await write_file(stage, tmp_path)
        await stage.pilot.press("g")
        await until_asked(stage, "Look 1 of")
        await stage.pilot.press("down", "enter")
        await until_asked(stage, "Look 2 of")
        assert [each.kind for each in read_logbook(logbook_path(path))] == [Kind.ANSWER]
        await stage.pilot.press("escape")
        await stage.until(lambda: len(stage.app.screen_stack) == 1)
        await stage.pilot.press("g")
        await until_asked(stage, "Look 2 of")


async def test_a_fault_that_is_found_is_in_the_logbook(opened: Open, tmp_path: Path):
    """A certain verdict is written as found, at fault; taking the last answer back undoes it."""
    async with opened() as stage:
        path = await write_file(stage, tmp_path)
        await open_find(stage)
        await answer_as(stage, lambda row: str(row.kind) == "break" and row.reach == 17)
        (entry,) = read_logbook(logbook_path(path))
        assert (entry.kind, entry.verdict, entry.name) == (Kind.FOUND, Verdict.FAULT, "pier/1")
        assert "17" in entry.words
        await stage.pilot.press("backspace")
        await until_asked(stage, "")
        assert [each.kind for each in read_logbook(logbook_path(path))] == [Kind.FOUND, Kind.UNDONE]


@pytest.mark.parametrize(
    ("size", "key"),
    [
        (PHONE, "enter"),
        *(
            pytest.param(*each, marks=pytest.mark.slow)
            for each in ((USUAL, ""), (PHONE, ""), (USUAL, "enter"))
        ),
    ],
)
async def test_no_line_about_the_network_crowds_out_the_answers(
    opened: Open, size: tuple[int, int], key: str
):
    """The question and every answer are to be seen, whatever else there is to read; e has all of that."""
    wrong = "10.0.0.12 port 5568: the host is there, but nothing listens on that port. Check the protocol"
    async with opened(size=size) as stage:
        stage.app.outlook._lookout = Rivals()  # type: ignore[assignment]
        await open_find(stage)
        stage.engine.tell(complaints=(wrong, "10.0.0.13 port 5568: the same once more, on another line"))
        if key:
            await stage.pilot.press(key)
            await stage.until(lambda: "Enter did nothing" in stage.text)
        await stage.until(lambda: "10.0.0.12" in stage.text)
        stage.app.tell()
        await stage.until(lambda: "Another sends" in stage.text)
        await stage.until(lambda: "can't tell" in stage.text)
        assert "What colour is the last lit node," in stage.text
        for number in range(10):
            assert any(line.split()[:1] == [str(number)] for line in stage.text.splitlines()), number
        await stage.pilot.press("e")
        await stage.until_read(wrong)


class Rivals:
    """A lookout that hears somebody else on a universe of ours."""

    heard = None
    trouble = cid = ""
    briefs = (
        "Another sends universe 1: desk at 10.0.0.99, priority 150 over our 100, and wins. End it.",
    ) * 2

    def look(self, _now_s: float) -> tuple[str, ...]:
        """Nothing is new."""
        return ()

    def know(self, _cid: str) -> None:
        """Take note of what is ours."""

    def close(self) -> None:
        """There is nothing to close."""


@pytest.mark.parametrize("keys", [("w", "enter"), ("g",)])
async def test_nobody_is_asked_about_looks_that_are_dark(opened: Open, keys: tuple[str, ...]):
    """Else "nothing is lit" would be written down as a fault of the wiring."""
    async with opened(level=0) as stage:
        await stage.pilot.press(*keys)
        await stage.until_read("At a level of 0 % no look can be seen")
        assert len(stage.app.screen_stack) == 1
        assert stage.engine.asked == []
