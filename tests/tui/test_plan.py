"""The plan of the display in hand, on its sheet: what is wrong first, the frame sent now, every width."""

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len
from textual.containers import VerticalScroll

from streamer.display.electrics import Supply
from streamer.display.model import Display
from streamer.engine.messages import Dark
from streamer.power.loads import Loads
from streamer.power.plan import power_plan
from tests.tui import fakes
from tests.tui.sizes import PHONE, USUAL, large
from tests.tui.stage import Open, Stage
from tui.tables import Column, lay

SIZES = (USUAL, PHONE, large(120, 40), large(200, 60))


def supplied() -> Display:
    """Return the boathouse with a supply that is too small for the roof."""
    jetty, roof = fakes.boathouse().controllers
    fed = tuple(each.model_copy(update={"supply": "shed"}) for each in roof.ports)
    return Display(
        name="boathouse",
        controllers=(jetty, roof.model_copy(update={"ports": fed})),
        supplies=(Supply(name="shed", volts=12, amps=4),),
    )


async def open_plan(stage: Stage) -> None:
    """Open the sheet, and wait for the thread."""
    await stage.pilot.press("a")
    await worked_out(stage, "worked out...")


async def worked_out(stage: Stage, gone: str) -> None:
    """Wait for the thread, and until what was shown before is gone."""
    await stage.app.workers.wait_for_complete()
    await stage.until(lambda: gone not in stage.text)


async def whole_text(stage: Stage) -> str:
    """Return all that the sheet says, made one line."""
    await stage.pilot.resize_terminal(120, 120)
    await stage.pilot.pause()
    return " ".join(stage.text.split())


def scrolled_to(stage: Stage, head: str) -> bool:
    """Return whether a heading is near the top; scroll one row towards it if not."""
    is_there = any(line.split()[-1:] == [head] for line in stage.text.splitlines()[3:6])
    if not is_there:
        stage.app.screen.query_one(VerticalScroll).scroll_relative(y=1, animate=False)
    return is_there


@pytest.mark.parametrize("size", SIZES)
async def test_the_worst_stands_first(opened: Open, size: tuple[int, int]):
    """At every size, with what to do about it."""
    async with opened(size=size, display=supplied(), level=80) as stage:
        await open_plan(stage)
        stage.check(f"plan-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", SIZES[:3])
async def test_the_tables_fit(opened: Open, size: tuple[int, int]):
    """Scrolled to the ports: a narrow screen shows fewer columns, and names those it leaves out."""
    async with opened(size=size, display=supplied(), level=5) as stage:
        await stage.start()
        stage.engine.shine(fakes.walking(stage.display, 9), (0, 0, 0, 0))
        await stage.look()
        await open_plan(stage)
        await stage.until(lambda: scrolled_to(stage, "Ports"))
        stage.check(f"plan-ports-{size[0]}x{size[1]}")


async def test_what_is_sent_now_is_counted_and_enter_counts_anew(opened: Open):
    """The amperes of the frame in the shared memory are those that the power room gives for it."""
    async with opened(display=supplied()) as stage:
        await stage.start()
        loads = Loads(stage.display)
        dark = fakes.walking(stage.display, 9, (0, 0, 0))
        lit = dark.copy()
        lit[:, 0] = 255
        for nodes, before in ((lit, "worked out..."), (dark, f"{loads.of_frame(lit).amps:.2f} A as sent")):
            stage.engine.shine(nodes, (0, 0, 0, 0))
            await stage.look()
            await stage.pilot.press("a" if nodes is lit else "enter")
            await worked_out(stage, before)
            assert f"{loads.of_frame(nodes).amps:.2f} A as sent now" in await whole_text(stage)


async def test_it_says_all_that_is_asked_before_the_ladder(opened: Open):
    """Totals, supplies against their limit, cables, rate, assumptions, and the cautions where power is."""
    async with opened(display=supplied()) as stage:
        await open_plan(stage)
        text = await whole_text(stage)
        white = Loads(stage.display).of_white(100).amps
        advice = power_plan(stage.display, 30).ports[0].advice
        assert advice is not None
        feeds = ", ".join(map(str, advice.after))
        for words in (
            f"740 nodes: {white:.2f} A at full white",
            "nothing is sent now",
            "shed 12 3.20",
            "all together: 320 packets/s",
            "For full white, feed also",
            f"- jetty/1 and 1 like it: after nodes {feeds}, by 20 AWG",
            "44.1 frames a second at most",
            "Taken for granted",
            "no wire",
            "fuse in every feed",
            "RCD; GFCI",
            "licensed electrician",
        ):
            assert words in text, words


async def test_the_lights_go_dark_from_here_too_and_esc_closes(opened: Open):
    """Space and F8 do as everywhere; a and Esc go back."""
    async with opened() as stage:
        await stage.start()
        for key in ("space", "f8"):
            await open_plan(stage)
            before = len([each for each in stage.engine.asked if isinstance(each, Dark)])
            await stage.pilot.press(key)
            assert len([each for each in stage.engine.asked if isinstance(each, Dark)]) == before + 1
            await stage.pilot.press("escape" if key == "space" else "a")
            await stage.until(lambda: len(stage.app.screen_stack) == 1)


async def test_it_can_be_left_before_it_is_worked_out(opened: Open):
    """Nothing comes of it then, and the next one is whole."""
    async with opened() as stage:
        await stage.pilot.press("a", "escape")
        await stage.app.workers.wait_for_complete()
        assert len(stage.app.screen_stack) == 1
        await open_plan(stage)
        assert "jetty/1" in stage.text


async def test_an_interface_that_is_gone_is_told(opened: Open):
    """In place of the plan, with what to do."""
    async with opened() as stage:
        stage.app.talk.setup = stage.setup.model_copy(update={"interface": "shed77"})
        await open_plan(stage)
        assert "shed77" in stage.text


async def test_without_a_display_there_is_nothing_to_plan(opened: Open):
    """The key does nothing."""
    async with opened(has_display=False) as stage:
        await stage.pilot.press("a")
        assert len(stage.app.screen_stack) == 1


async def test_names_from_a_file_steer_nothing(opened: Open):
    """Escape sequences and markup in a label are plain text."""
    odd = fakes.port("jetty/1", 1, 1, 5, "[b]\x1b[2Jx")
    jetty = fakes.boathouse().controllers[0].model_copy(update={"ports": (odd,)})
    async with opened(size=(120, 40), display=Display(name="x", controllers=(jetty,))) as stage:
        await open_plan(stage)
        assert "[b]�[2Jx" in stage.text


def test_the_sheet_loads_no_arithmetic():
    """SciPy and pint come with the thread, never with the start or the sheet."""
    code = "import sys, tui.app, tui.screens.plan\nassert not {'scipy', 'pint', 'numpy'} & set(sys.modules)"
    subprocess.run([sys.executable, "-c", code], check=True)


CELLS = st.sampled_from(["", "ab c", "läuft", "電飾", "7" * 20, "🏮x", "[b]", " ", "電" * 20, "e\u0301x"])
HEADS = "abcdefgh"
COLUMNS = st.lists(st.tuples(st.integers(1, 6), st.integers(1, 9), CELLS, st.booleans()), max_size=8).map(
    lambda made: [(head * times, *rest) for head, (times, *rest) in zip(HEADS, made, strict=False)]
)
"""Heads that differ by their letter, for drawing until they do takes long on a busy machine."""


@given(COLUMNS, st.integers(20, 120))
def test_a_table_is_never_wider_than_its_room(columns: list[tuple[str, int, str, bool]], width: int):
    """Whatever is in it, as long as its first column has room; and no column is lost in silence."""
    rest = [Column(head, rank, (cell if is_text else "7" * len(cell),), is_text=is_text)
            for head, rank, cell, is_text in columns]  # fmt: skip
    laid = lay([Column("port", 0, ("jetty/1",), is_text=True), *rest], width)
    assert all(cell_len(each) <= width for each in (laid.head, *laid.rows))
    assert set(laid.head.split()) | set(laid.left_out) == {"port", *(each.head for each in rest)}
