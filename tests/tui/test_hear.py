"""Everything on the wire on its sheet, and the line that says who is in our way.

Who wins is by ANSI E1.31-2018 clause 6.2.3.
"""

import pytest

from streamer.display.model import Display, Protocol
from streamer.hear.messages import Close, Discover, Listen, Watch
from streamer.wire.artnet import ArtDmx
from streamer.wire.e131 import Options
from tests.hear.bench import A, B, Bench, data
from tests.hear.fakes import Starter
from tests.tui import fakes
from tests.tui.sizes import PHONE, SIZES, USUAL, large
from tests.tui.stage import Open, Stage
from tui.screens.levels import plotted

ROOM = 24
HOSTILE = "[red]\x1b[2J\u202ename"


class Ears:
    """A fake listener behind the outlook of a stage, and a table for what it hears."""

    def __init__(self, stage: Stage) -> None:
        self.stage = stage
        self.bench = Bench(e131=(1, 2, 3, 4))
        self.starter = Starter()
        stage.app.outlook.start = self.starter
        # By the machine's own clock a slow one would find the listener silent, and so gone.
        stage.app.outlook.clock = lambda: self.bench.now

    async def are_there(self) -> None:
        """Wait until the listener is up."""
        outlook = self.stage.app.outlook

        def is_there() -> bool:
            self.stage.app.look_out()
            keeper = outlook._lookout._keeper if outlook._lookout else None
            if keeper and keeper._coming:
                keeper._coming.exception()
            return bool(keeper and keeper.is_there)

        await self.stage.until(is_there)

    async def hear(self) -> None:
        """Let the listener tell what the bench has heard."""
        self.bench.table.close_window(self.bench.now)
        self.starter.listener.says.append(self.bench.table.heard([], self.bench.now))
        self.stage.app.look_out()
        await self.stage.pilot.pause()


def by_groups() -> Display:
    """Return the jetty alone, by multicast."""
    jetty = fakes.boathouse().controllers[0].model_copy(update={"address": "multicast"})
    return Display(name="boathouse", controllers=(jetty,))


async def play(stage: Stage) -> Ears:
    """Start, past the cautions, as A; return the ears."""
    ears = Ears(stage)
    stage.engine.cid = str(A)
    await stage.pilot.press("enter", "enter")
    await stage.until(lambda: str(stage.app.talk.status.state) == "running")
    await ears.are_there()
    return ears


async def open_sheet(stage: Stage) -> Ears:
    """Open the sheet with two seconds of four sources heard."""
    ears = Ears(stage)
    await stage.pilot.press("y")
    await ears.are_there()
    bench = ears.bench
    for number in range(40):
        bench.give(data(number, cid=A), data(number, cid=B, priority=120, source_name="Porch"))
        bench.give(data(number, universe=2, cid=B, options=Options.PREVIEW_DATA))
        bench.give(ArtDmx(19, bytes(4)))
        bench.now += 0.025
    await ears.hear()
    return ears


@pytest.mark.parametrize("size", SIZES)
async def test_every_source_has_its_row(opened: Open, size: tuple[int, int]):
    """And the row under the cursor is told in full; a narrow screen has fewer columns."""
    async with opened(size=size, display=by_groups()) as stage:
        await open_sheet(stage)
        stage.check(f"hear-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", SIZES)
async def test_the_levels_of_a_universe(opened: Open, size: tuple[int, int]):
    """As cells, with the history of the slot under the cursor."""
    async with opened(size=size, display=by_groups()) as stage:
        ears = await open_sheet(stage)
        await stage.pilot.press("enter", "right")
        assert ears.starter.listener.asked[-1] == Watch(universe=1, slot=2)
        ears.bench.table.watch(Protocol.E131, 1, 2)
        await ears.hear()
        ears.bench.stream((data(number, cid=B, priority=120) for number in range(40, 80)), 0.025)
        await ears.hear()
        assert "slot 2: 2, 1 %" in stage.text
        assert "from 2 to 2" in " ".join(stage.text.split())
        stage.check(f"levels-{size[0]}x{size[1]}")


def test_a_plot_is_as_wide_as_its_cells_and_keeps_its_scale():
    """Both ends of the scale stand at the left, each a cell wide; the newest is the last."""
    for count in (0, 1, 50, 78, 79, 2048):
        plot = plotted([7] * count, 80)
        per_cell = len(plot) // 80
        assert len(plot) == 80 * per_cell
        assert plot[: 2 * per_cell] == [0] * per_cell + [255] * per_cell
        assert plot.count(7) == count


async def test_the_display_is_asked_for_and_no_more_when_the_sheet_closes(opened: Open):
    """Then the listener ends: nothing is left running beside an idle screen."""
    async with opened(display=by_groups()) as stage:
        ears = await open_sheet(stage)
        listener = ears.starter.listener
        assert Listen(universes=(1, 2, 3, 4)) in listener.asked
        assert listener.asked.count(Discover(on=True)) == 0
        await stage.pilot.press("d")
        assert Discover(on=True) in listener.asked
        await stage.pilot.press("escape")
        stage.app.look_out()
        assert listener.asked[-1] == Close()


async def test_without_a_display_what_is_announced_is_heard(opened: Open):
    """There is nothing else to ask for."""
    async with opened(has_display=False) as stage:
        ears = await open_sheet(stage)
        assert Discover(on=True) in ears.starter.listener.asked


@pytest.mark.parametrize("size", [USUAL, pytest.param(PHONE, marks=pytest.mark.slow), large(200, 60)])
async def test_another_source_is_a_line_that_lasts(opened: Open, size: tuple[int, int]):
    """On the main screen and on every sheet; gone with its source, and kept among the words."""
    async with opened(size=size, display=by_groups()) as stage:
        ears = await play(stage)
        ears.bench.give(data(cid=A), data(cid=B, priority=120, source_name="Porch"))
        await ears.hear()
        for key in ("", "a", "i"):
            if key:
                await stage.pilot.press(key)
            # A sheet beside the lane takes the middle of the line on the main screen.
            for words in ("'Porch' at 10.61.0.2 also sends", "at priority 120, over your 100"):
                await stage.until_read(words)
            if key:
                await stage.pilot.press("escape")
        ears.bench.now += 3
        await ears.hear()
        assert "also sends" not in stage.text
        assert "no longer sends universe 1" in stage.app.talk.words[-1]


async def test_nobody_listens_for_a_rehearsal(opened: Open):
    """What stays on this machine needs no process beside."""
    async with opened() as stage:
        ears = Ears(stage)
        stage.engine.cid = str(A)
        await stage.start()
        stage.app.look_out()
        assert ears.starter.started == []


async def test_a_port_that_is_taken_is_told_and_the_run_goes_on(opened: Open):
    """In the words of the listener."""
    async with opened(display=by_groups()) as stage:
        ears = Ears(stage)
        ears.starter.refusal = "port 5568: held by process 7."
        stage.engine.cid = str(A)
        await stage.pilot.press("enter", "enter")

        def is_told() -> bool:
            stage.app.look_out()
            return "held by process 7" in stage.text

        await stage.until(is_told)
        assert str(stage.app.talk.status.state) == "running"


async def test_names_from_the_network_steer_nothing(opened: Open):
    """Escape sequences, markup and turns of direction are plain text."""
    async with opened(display=by_groups()) as stage:
        ears = await play(stage)
        packet = data(cid=B, priority=120).encode()
        ears.bench.give(
            packet.replace(b"Boathouse".ljust(ROOM, b"\0"), HOSTILE.encode().ljust(ROOM, b"\0")),
            protocol=Protocol.E131,
        )
        await ears.hear()
        assert "\x1b" not in stage.text
        assert "\u202e" not in stage.text
        assert "[red]�" in stage.text


@pytest.mark.slow
async def test_no_size_breaks_the_sheets(opened: Open):
    """From 1x1 on, with and without anything heard."""
    async with opened(display=by_groups()) as stage:
        await open_sheet(stage)
        for key in ("", "enter"):
            if key:
                await stage.pilot.press(key)
            for size in ((1, 1), (10, 5), (40, 10), (200, 60), (80, 24)):
                await stage.pilot.resize_terminal(*size)
                await stage.pilot.pause()
