"""The asking sheet: a search and a walk, led by one key an answer; the lights are given back as they were."""

import pytest

from tests.tui.stage import Open, Stage
from tui.screens.asking import Asking

SIZES = ((80, 24), (120, 40), (40, 24))


async def open_find(stage: Stage):
    """Open the search on the first port."""
    await stage.pilot.press("w")
    await stage.until(lambda: isinstance(stage.app.screen, Asking) and "Look 1" in stage.text)


async def answer_as(stage: Stage, is_that_row):
    """Answer every look as somebody would who sees the fault; return when the verdict is told."""
    session = stage.app.screen._session
    finding = session._finding
    table = finding.bench.table
    row = next(index for index, each in enumerate(table.rows) if is_that_row(each))
    for _ in range(30):
        if finding.look is None:
            return
        seen = finding.bench.chooser.predicted(finding.look, table.columns)
        await stage.pilot.press(str(int(seen[row])))
        await stage.pilot.pause()
    raise AssertionError("no verdict")


@pytest.mark.parametrize("size", SIZES)
async def test_find(opened: Open, size: tuple[int, int]):
    """The first question of a search."""
    async with opened(size=size) as stage:
        await open_find(stage)
        await stage.pilot.pause()
        stage.check(f"find-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", SIZES)
async def test_a_search_answered_by_number_keys_names_the_break(opened: Open, size: tuple[int, int]):
    """The right answers lead to the break after node 57, with what to check in order."""
    async with opened(size=size) as stage:
        await open_find(stage)
        await answer_as(stage, lambda row: str(row.kind) == "break" and row.hung == 57)
        await stage.pilot.pause()
        assert "57" in stage.text
        stage.check(f"found-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", SIZES)
async def test_prove(opened: Open, size: tuple[int, int]):
    """The first look of a walk; without a display file it says that nothing is kept."""
    async with opened(size=size) as stage:
        await stage.pilot.press("g")
        await stage.until(lambda: "Look 1 of" in stage.text)
        await stage.pilot.pause()
        stage.check(f"prove-{size[0]}x{size[1]}")
