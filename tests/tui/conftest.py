"""An app on a fake engine, in folders of its own."""

from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from textual.css.stylesheet import Stylesheet

from streamer.display.model import Display
from streamer.engine.messages import Setup, Show
from tests.tui import fakes
from tests.tui.quiet import until_quiet
from tests.tui.stage import Open, Stage
from tui.app import RopewalkApp

_parse_rules = Stylesheet._parse_rules
_rules: dict[tuple[object, ...], object] = {}


@pytest.fixture(autouse=True)
def _styles_are_parsed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the apps of all tests have the same rules: each would parse all of its styles twice."""

    def parsed(sheet: Stylesheet, css: str, *place: Any, **more: Any) -> object:
        key = (css, *place, *sorted(more.items()), *sorted(sheet._variables.items()))
        if key not in _rules:
            _rules[key] = _parse_rules(sheet, css, *place, **more)
        return _rules[key]

    monkeypatch.setattr(Stylesheet, "_parse_rules", parsed)


@pytest.fixture(autouse=True)
def _rest_is_told_by_the_loop(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the pilot wait for what is still to do, not for the processor to be idle."""
    for user in ("app", "pilot"):
        monkeypatch.setattr(f"textual.{user}.wait_for_idle", until_quiet)


@pytest.fixture(autouse=True)
def _own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("ROPEWALK_CONFIG_DIR", str(tmp_path / "config"))
    monkeypatch.delenv("SSH_CONNECTION", raising=False)
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.chdir(tmp_path)
    # Runs of others on this machine are no rivals of a test; the path of a local socket has to be short.
    with TemporaryDirectory(prefix="rw") as folder:
        monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", folder)
        yield


@pytest.fixture
def opened(tmp_path: Path) -> Open:
    """Return what opens a stage of a size, with or without a display and a yard."""

    @asynccontextmanager
    async def open_stage(  # noqa: PLR0913  what a stage may be
        size: tuple[int, int] = (80, 24),
        *,
        display: Display | None = None,
        has_display: bool = True,
        has_yard: bool = False,
        plays_at_once: bool = False,
        level: float = 30,
        flashes: int | None = None,
        has_toasts: bool = False,
    ) -> AsyncIterator[Stage]:
        shown = display or fakes.boathouse()
        engine = fakes.FakeEngine(tmp_path)
        yard = fakes.FakeYard(tmp_path, shown) if has_yard else None
        setup = Setup(display=shown, flashes_per_s=flashes) if has_display else None
        show = Show(pattern="walk", level_percent=level)
        app = RopewalkApp(engine, setup, show, yard, plays_at_once=plays_at_once)
        async with app.run_test(size=size, notifications=has_toasts) as pilot:
            await pilot.pause()
            stage = Stage(app, pilot, engine, yard, shown)
            yield stage
            assert stage.text, "whatever it shows at the end can be drawn"

    return open_stage
