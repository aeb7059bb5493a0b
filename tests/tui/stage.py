"""The app under test with its fakes, and the pilot that presses and taps."""

import asyncio
import time
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from dataclasses import dataclass

from textual.pilot import Pilot

from streamer.display.model import Display
from streamer.engine.messages import Setup
from tests.tui import dump
from tests.tui.fakes import FakeEngine, FakeYard
from tui.app import RopewalkApp
from tui.screens.walk import Walk

PIER = """
name = "pier"

[[controllers]]
name = "pier"
protocol = "e131"
address = "127.0.0.1"

[[controllers.ports]]
number = 1
universe = 1
nodes = 50
"""
"""A display file."""
LIMIT_S = 60.0
"""How long something may take to come to be so, on a machine that is as busy as can be."""
TURNS_S = (0.005, 0.05)
"""How long timers and threads are left alone before it is looked again: longer each time."""


@dataclass
class Stage:
    """The app under test, its fakes, and the pilot that presses and taps."""

    app: RopewalkApp
    pilot: Pilot[int]
    engine: FakeEngine
    _yard: FakeYard | None
    display: Display

    async def until(self, is_so: Callable[[], bool]) -> None:
        """Let the app work until something is so."""
        limit_s, (turn_s, most_s) = time.monotonic() + LIMIT_S, TURNS_S
        while time.monotonic() < limit_s:
            await self.pilot.pause()
            if is_so():
                return
            await asyncio.sleep(turn_s)
            turn_s = min(1.5 * turn_s, most_s)
        raise AssertionError(f"it did not come to be so:\n{self.text}")

    async def until_read(self, words: str) -> None:
        """Let the app work until these words are on the screen, on however many lines."""
        await self.until(lambda: " ".join(words.split()) in " ".join(self.text.split()))

    @property
    def walk(self) -> Walk:
        """The main screen, whatever lies over it."""
        walk = self.app.screen_stack[0]
        assert isinstance(walk, Walk)
        return walk

    @property
    def yard(self) -> FakeYard:
        """The yard of a stage that has one."""
        assert self._yard is not None
        return self._yard

    @property
    def setup(self) -> Setup:
        """What is in hand: a display, and how it is sent to."""
        assert self.app.talk.setup is not None
        return self.app.talk.setup

    @property
    def text(self) -> str:
        """The screen as text."""
        return dump.text_of(self.app)

    def check(self, name: str) -> None:
        """Compare the screen with the stored one."""
        dump.check(self.app, name)

    async def start(self, state: str = "running") -> None:
        """Press Start and wait for the engine."""
        await self.pilot.press("enter")
        await self.until(lambda: str(self.app.talk.status.state) == state)

    async def look(self, times: int = 1) -> None:
        """Look at the shared frames, without waiting for the timer."""
        for _ in range(times):
            self.walk.look()
        await self.pilot.pause()


Open = Callable[..., AbstractAsyncContextManager[Stage]]
