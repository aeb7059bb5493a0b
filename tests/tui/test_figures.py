"""The figures of a run and what is wrong now: drawn from the engine's status, and gone when it is over."""

import pytest

from streamer.engine.messages import Counts
from streamer.net.carrier import CABLE_OUT
from tests.tui import fakes
from tests.tui.sizes import SIZES
from tests.tui.stage import Open, Stage

CABLE = f"shed0: {CABLE_OUT}"
SILENT = "10.61.0.9 port 5568: nothing answers at that address. Check the controller's power"


async def open_figures(stage: Stage, **status: object) -> None:
    """Start, and open the sheet on a status of many figures."""
    await stage.start()
    stage.engine.status = fakes.counted(stage.engine.status)
    stage.engine.tell(
        ways={"10.61.0.2": "offload", "10.61.0.3": "offload", "multicast": "sendmmsg"},
        cpu_share=0.034,
        scheduling="real-time (SCHED_FIFO, priority 10)",
        seconds=300.0,
        **status,
    )
    await stage.pilot.press("i")
    await stage.until(lambda: "lateness: half under 0.11" in stage.text)


@pytest.mark.parametrize("size", SIZES)
async def test_every_figure_fits(opened: Open, size: tuple[int, int]):
    """With a synchronized run and a cable that is out: the worst comes first."""
    async with opened(size=size) as stage:
        where = "universe 7001, by its group 239.255.27.89"
        await open_figures(stage, complaints=(CABLE,), synchronization=where)
        stage.check(f"figures-{size[0]}x{size[1]}")


async def test_the_figures_follow_the_run_and_i_closes_them(opened: Open):
    """As they are told, five times a second."""
    async with opened() as stage:
        await open_figures(stage)
        stage.engine.tell(counts=Counts(frames=7777, errors={"ENOBUFS": 12, "EPERM": 1}))
        await stage.until(lambda: "7,777 frames" in stage.text)
        assert "refused: 12 by ENOBUFS, 1 by EPERM" in stage.text
        await stage.pilot.press("i")
        await stage.until(lambda: "How it sends" not in stage.text)


async def test_the_figures_of_nothing_say_so(opened: Open):
    """Before a run, and after it."""
    async with opened() as stage:
        await stage.pilot.press("i")
        await stage.until(lambda: "Nothing is sent now." in stage.text)


@pytest.mark.parametrize("size", [(80, 24), (40, 24)])
async def test_a_pulled_cable_is_said_at_once_with_what_to_do(opened: Open, size: tuple[int, int]):
    """In the line of the state and in the alarm; both go when it is in again, and it can be read up."""
    async with opened(size=size) as stage:
        await stage.start()
        stage.engine.tell(complaints=(CABLE,), carrier_lost=True)
        await stage.until(lambda: "Running, but a cable is out: walk" in " ".join(stage.text.split()))
        assert f"! {CABLE}" in " ".join(stage.text.split()), "cut"
        stage.engine.tell(complaints=(), carrier_lost=False)
        await stage.until(lambda: "Running: walk" in stage.text)
        assert "shed0" not in stage.text
        await stage.pilot.press("e")
        await stage.until(lambda: CABLE in " ".join(stage.text.split()))


async def test_the_alarm_says_how_much_more_is_wrong(opened: Open):
    """Two controllers are silent; Esc puts it out of sight until something else is wrong."""
    async with opened() as stage:
        await stage.start()
        other = SILENT.replace("61.0.9", "61.0.8")
        stage.engine.tell(complaints=(SILENT, other))
        await stage.until(lambda: "! 10.61.0.9 port 5568: nothing answers" in stage.text)
        assert "1 more" in stage.text
        await stage.pilot.press("escape")
        await stage.until(lambda: "nothing answers" not in stage.text)
        stage.engine.tell(complaints=(SILENT, other, CABLE))
        await stage.until(lambda: "2 more" in stage.text)
