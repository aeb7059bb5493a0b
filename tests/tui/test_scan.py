"""The sheet that shows who is on the network: live, at every size, and with nothing that steers it."""

import time
from collections.abc import Callable, Iterator
from functools import partial

import pytest

from streamer.errors import NetworkError
from streamer.scan.comparing import compare
from streamer.scan.found import Found, Source
from streamer.scan.poller import Poller
from streamer.scan.telling import Line, Tone, comparison_lines, found_lines
from tests.scan.replies import outputs
from tests.scan.test_comparing import display
from tests.tui.sizes import PHONE, USUAL, large
from tests.tui.stage import Open, Stage
from tui.scanning import Lines
from tui.screens.scan import ScanSheet

SIZES = (USUAL, PHONE, large(120, 40), large(200, 60))
FIRST = (Line("Art-Net devices: 0", Tone.HEAD),)
THEN = (
    Line("Art-Net devices: 1", Tone.HEAD),
    Line("! port 3 listens to 20 (0:1:4), the plan says 19 (0:1:3), one lower", Tone.BAD, 2, 4),
    Line("[b]\x1b[2J\u202ename", Tone.PLAIN, 4, 6),
)

TELLS_AGAIN_S = 0.1
"""Slower than a turn of the stage: it would wait for a screen that never rests."""


class Network:
    """Tells what a test gives it, and notes that it was left."""

    def __init__(self, *told: Lines) -> None:
        self.told = list(told)
        self.is_left = False

    def scan(self, is_over: Callable[[], bool]) -> Iterator[Lines]:
        """Tell all, then wait for the end."""
        yield from self.told
        while not is_over():
            time.sleep(TELLS_AGAIN_S)
            yield self.told[-1]
        self.is_left = True


async def opened_on(stage: Stage, network: Network) -> None:
    """Open the sheet on it."""
    stage.app.push_screen(ScanSheet(network.scan))
    await stage.until(lambda: "Asking" not in stage.text and "Art-Net devices" in stage.text)


@pytest.mark.parametrize("size", [PHONE, pytest.param(USUAL, marks=pytest.mark.slow), *SIZES[2:]])
async def test_it_shows_the_latest_at_every_size(opened: Open, size: tuple[int, int]):
    """Wrapped, not cut."""
    async with opened(size=size) as stage:
        network = Network(FIRST, THEN)
        await opened_on(stage, network)
        await stage.until(lambda: "devices: 1" in stage.text)
        assert "port 3 listens to 20 (0:1:4), the plan says 19 (0:1:3), one lower" in " ".join(
            stage.text.split()
        )


@pytest.mark.parametrize("size", SIZES[:2])
async def test_what_it_looks_like(opened: Open, size: tuple[int, int]):
    """A device that is not as planned, one that is not there, and a source."""
    asking = Poller(["10.0.0.255"])
    asking.due(0.0)
    shed = outputs(3, 5, report=b"#0001 [0042] fine", good_output=b"\x80", mac=b"\x02\x1b\x3d\x5f\x71\x93")
    asking.heard(shed, "10.0.0.9", 0.4)
    source = Source("player", "cid", "10.0.0.2", (7, 8), is_whole=True)
    found = Found(4.0, 4.0, ("10.0.0.255",), ("10.0.0.9",), 2, tuple(asking.devices(4.0)), (source,))
    barn = display("0:1:9", address="10.0.0.8", name="barn").controllers
    plan = display("0:1:3", "0:1:4")
    both = plan.model_copy(update={"controllers": (*plan.controllers, *barn)})
    lines = (*comparison_lines(compare(both, found)), *found_lines(found))
    async with opened(size=size) as stage:
        await opened_on(stage, Network(lines))
        stage.check(f"scan-{size[0]}x{size[1]}")


async def test_nothing_from_the_network_steers_it(opened: Open):
    """Escape sequences, markup and bidirectional marks are plain text."""
    async with opened() as stage:
        await opened_on(stage, Network(THEN))
        assert "[b]�[2J�name" in stage.text


async def test_leaving_the_sheet_ends_the_scan(opened: Open):
    """By k or Esc; nobody is asked any more."""
    async with opened() as stage:
        for key in ("k", "escape"):
            network = Network(THEN)
            await opened_on(stage, network)
            await stage.pilot.press(key)
            await stage.until(partial(getattr, network, "is_left"))
            assert len(stage.app.screen_stack) == 1


async def test_why_nobody_can_be_asked_is_told(opened: Open):
    """In place of the list."""

    def fails(_is_over: Callable[[], bool]) -> Iterator[Lines]:
        yield from ()
        raise NetworkError("it is down", "interface 'shed7'", "Switch it on")

    async with opened() as stage:
        stage.app.push_screen(ScanSheet(fails))
        await stage.until(lambda: "interface 'shed7': it is down. Switch it on" in stage.text)


async def test_the_key_asks_with_the_display_in_hand(opened: Open, monkeypatch: pytest.MonkeyPatch):
    """It opens by k, with or without a display, and knows which source is the screen's own."""
    asked, cids = [], []

    def scanned(setup: object, own_cid: str, is_over: Callable[[], bool]) -> Iterator[Lines]:
        asked.append(setup)
        cids.append(own_cid)
        return Network(FIRST).scan(is_over)

    monkeypatch.setattr("tui.scanning.scanned", scanned)
    for has_display in (True, False):
        async with opened(has_display=has_display) as stage:
            await stage.pilot.press("k")
            await stage.until(lambda: "Art-Net devices: 0" in stage.text)
            assert asked[-1] is stage.app.talk.setup
            await stage.pilot.press("k")
            await stage.app.workers.wait_for_complete()
            if has_display:
                await stage.until(lambda: len(stage.app.screen_stack) == 1)
                stage.engine.cid = "own"
                await stage.start()
                await stage.until(lambda: stage.app.talk.plan is not None)
                await stage.pilot.press("k")
                await stage.until(lambda: cids == ["", "own"])
                await stage.pilot.press("k")
                await stage.app.workers.wait_for_complete()
