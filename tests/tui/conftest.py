"""An app on a fake engine, in folders of its own."""

from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from dataclasses import dataclass
from importlib import util
from pathlib import Path
from types import ModuleType

import pytest
from textual.pilot import Pilot

from streamer.display.model import Display
from streamer.engine.messages import Setup, Show
from tui.app import RopewalkApp
from tui.screens.walk import Walk


def _load(name: str) -> ModuleType:
    spec = util.spec_from_file_location(f"tui_tests_{name}", Path(__file__).parent / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


FAKES, DUMP = _load("fakes"), _load("dump")
TURNS = 200
"""Turns of the event loop that an answer may take."""


@dataclass
class Stage:
    """The app under test, its fakes, and the pilot that presses and taps."""

    app: RopewalkApp
    pilot: Pilot
    engine: object
    yard: object
    display: Display

    async def until(self, is_so: Callable[[], bool]) -> None:
        """Let the app work until something is so."""
        for _ in range(TURNS):
            await self.pilot.pause()
            if is_so():
                await self.pilot.pause()
                return
        raise AssertionError("it did not come to be so:\n" + self.text)

    @property
    def text(self) -> str:
        """The screen as text."""
        return DUMP.text_of(self.app)

    def check(self, name: str) -> None:
        """Compare the screen with the stored one."""
        DUMP.check(self.app, name)

    async def start(self, state: str = "running") -> None:
        """Press Start and wait for the engine."""
        await self.pilot.press("enter")
        await self.until(lambda: str(self.app.talk.status.state) == state)

    async def look(self, times: int = 1) -> None:
        """Look at the shared frames, without waiting for the timer."""
        walk = self.app.screen_stack[0]
        assert isinstance(walk, Walk)
        for _ in range(times):
            walk.look()
        await self.pilot.pause()


Open = Callable[..., AbstractAsyncContextManager[Stage]]


@pytest.fixture(autouse=True)
def _own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ROPEWALK_CONFIG_DIR", str(tmp_path / "config"))
    monkeypatch.delenv("SSH_CONNECTION", raising=False)
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def fakes() -> ModuleType:
    """The stand-ins for the engine and the yard."""
    return FAKES


@pytest.fixture
def opened(tmp_path: Path) -> Open:
    """Return what opens a stage: `async with opened(size=(80, 24), has_yard=True) as stage`."""

    @asynccontextmanager
    async def open_stage(
        size: tuple[int, int] = (80, 24),
        *,
        display: Display | None = None,
        has_display: bool = True,
        has_yard: bool = False,
        plays_at_once: bool = False,
        level: float = 30,
    ) -> AsyncIterator[Stage]:
        shown = display or FAKES.boathouse()
        engine = FAKES.FakeEngine(tmp_path)
        yard = FAKES.FakeYard(tmp_path, shown) if has_yard else None
        setup = Setup(display=shown) if has_display else None
        show = Show(pattern="walk", level_percent=level)
        app = RopewalkApp(engine, setup, show, yard, plays_at_once=plays_at_once)
        async with app.run_test(size=size) as pilot:
            await pilot.pause()
            yield Stage(app, pilot, engine, yard, shown)

    return open_stage
