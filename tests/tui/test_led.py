"""A search has the lights: what is sent is seen behind its sheet and on a second screen, on what hangs."""

import numpy as np

from patterns.plain import Bytes
from streamer.engine.messages import Change, Play, Refusal, Refused, Setup, Show, State
from streamer.find.finding import Bench, Finding
from tests.tui.stage import Open, Stage
from tests.tui.test_asking import open_find
from tui.screens.asking import Asking
from tui.widgets.lane import Lane

LEVEL = 76
OTHER = "screen, process 12"


def picture(nodes: str) -> Bytes:
    """Return what the pattern `picture` sends: a digit a node: red, green, blue and white (README)."""
    digits = np.array([int(each, 16) for each in nodes], np.uint8)
    return np.asarray((digits[:, None] >> np.arange(4)) & 1, np.uint8) * np.uint8(LEVEL)


def shine_look(stage: Stage) -> Play | Change:
    """Let the engine show the look that was asked for last; return what asked for it."""
    asked = next(each for each in reversed(stage.engine.asked) if isinstance(each, Play | Change))
    assert stage.app.talk.plan is not None
    shine(stage, stage.app.talk.plan.setup, asked.show)
    return asked


def shine(stage: Stage, setup: Setup, show: Show) -> None:
    """Show a look in the shared frame."""
    nodes = np.zeros((sum(port.nodes for port in setup.display.ports), 4), np.uint8)
    lit = picture(str(show.params["nodes"]))
    nodes[: len(lit)] = lit
    stage.engine.shine(nodes)


def lane(stage: Stage) -> Lane:
    """Return the lane of the main screen."""
    return stage.walk.query_one(Lane)


async def test_the_lane_behind_the_sheet_shows_the_look(opened: Open):
    """What the session says that each node of its string is sent, and no node of another string is lit."""
    async with opened(size=(200, 60)) as stage:
        await open_find(stage)
        shine_look(stage)
        await stage.look()
        sheet = stage.app.screen
        assert isinstance(sheet, Asking)
        assert sheet._moment is not None
        assert sheet._moment.cells is not None
        sent = lane(stage).picture.sent
        assert sent is not None
        assert (sent.nodes[:120] > 0).tolist() == (sheet._moment.cells > 0).tolist()
        assert sent.nodes[:120].any()
        assert not sent.nodes[120:].any()


async def test_the_caption_counts_no_nodes_that_no_string_has(opened: Open):
    """A search lays universes out in nodes of its own: their number says nothing."""
    async with opened(size=(200, 60)) as stage:
        await open_find(stage)
        await stage.until_read("In hand: a look of this search")
        assert stage.app.talk.status.now_showing == "node 1 of 120"
        assert "node 1 of" not in stage.text


def begin_elsewhere(stage: Stage) -> tuple[Setup, Show]:
    """Let another screen begin a search on the same engine; return what it plays."""
    bench = Bench(stage.display, "jetty/3")
    setup = Setup(display=bench.canvas, as_hung=stage.display.model_copy())
    show = Show(pattern="picture", params={"nodes": Finding(bench).nodes})
    stage.engine._play(setup, show)
    stage.engine.tell(state=State.IN_HAND, yours=False, control=OTHER)
    shine(stage, setup, show)
    return setup, show


async def test_a_second_screen_keeps_its_display_while_another_searches(opened: Open):
    """It says who searches, shows what is sent on its own strings, and has its pattern back afterwards."""
    async with opened(size=(120, 40)) as stage:
        before, show = stage.setup, stage.app.talk.show
        await stage.pilot.press("down")
        begin_elsewhere(stage)
        await stage.until_read(f"{OTHER} is searching for a fault")
        await stage.look()
        assert stage.setup.display is before.display
        assert "east rail" in stage.text
        assert lane(stage).picture.cursor == 1, "where one looked"
        sent = lane(stage).picture.sent
        assert sent is not None
        assert sent.nodes[240:330].any(), "on jetty/3"
        assert not sent.nodes[:240].any()
        stage.engine.tell(state=State.IDLE, show=None, plan=0)
        await stage.until_read("Idle: Enter starts walk on boathouse")
        assert (stage.setup, stage.app.talk.show) == (before, show)


async def test_a_second_screen_follows_when_the_search_gives_the_lights_back(opened: Open):
    """What was on before is on again, with its own line."""
    async with opened(size=(120, 40)) as stage:
        begin_elsewhere(stage)
        await stage.until_read("is searching")
        stage.engine._play(Setup(display=stage.display.model_copy()), Show(pattern="tint"))
        await stage.until_read("Running: tint")
        assert stage.app.talk.show.pattern == "tint"


async def test_a_screen_with_another_display_has_it_back_after_the_search(opened: Open):
    """What is searched is shown meanwhile."""
    async with opened(size=(120, 40)) as stage:
        bench = Bench(stage.display, "jetty/3")
        own = stage.display.model_copy(update={"name": "mine"})
        stage.app.talk.setup = Setup(display=own)
        stage.engine._play(Setup(display=bench.canvas, as_hung=stage.display), Show(pattern="picture"))
        await stage.until(lambda: stage.setup.display == stage.display)
        stage.engine.tell(state=State.IDLE, show=None, plan=0)
        await stage.until(lambda: stage.setup.display == own)


async def test_a_screen_that_comes_in_the_middle_of_a_search_shows_the_display(opened: Open):
    """Attached with nothing chosen: what hangs, not what the search plays."""
    async with opened(size=(120, 40), has_display=False) as stage:
        begin_elsewhere(stage)
        await stage.until(lambda: "lamp posts" in stage.text)
        assert stage.setup.display == stage.display
        assert stage.setup.as_hung is None


async def test_a_refusal_during_another_s_search_leaves_ones_pattern(opened: Open):
    """And whoever takes control plays on what hangs."""
    async with opened(size=(120, 40)) as stage:
        begin_elsewhere(stage)
        await stage.until_read("is searching")
        stage.engine.say(
            Refused(request="change", why=Refusal.NO_CONTROL, reason="Somebody else holds control.")
        )
        await stage.until_read(f"{OTHER} holds control. t takes it over")
        assert stage.app.talk.show.pattern == "walk"
        await stage.pilot.press("t", "+")
        asked = stage.engine.last(Play)
        assert (asked.setup.display, asked.show.pattern) == (stage.display, "walk")
