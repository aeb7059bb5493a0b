"""When an app has nothing left to do, told by its event loop: the same on an idle machine and on a busy one.

Textual's own pilot waits until the process takes little of the processor's time; on a busy machine one that
is starved does that too, while it has everything still to do.
"""

import asyncio
from typing import Any

from textual._context import active_app
from textual.app import App
from textual.screen import Screen

QUIET_TURNS = 3
"""Turns of the loop in a row in which nobody else had anything to do; files are looked at once a turn."""
ROUNDS = 100
TURNS = 100_000
"""More than any key needs: an app that never comes to rest is a mistake."""


async def until_quiet(_least_s: float = 0, _most_s: float = 0) -> None:
    """Let the app work until nothing is due but timers and threads, and what was to be drawn is drawn."""
    await _turns()
    app = active_app.get()
    for _ in range(ROUNDS):
        due = [screen for screen in _seen(app) if _is_due(screen)]
        if not due and not app._resize_event:
            return
        # Both would be called by timers, in a hundredth of a second.
        app._check_resize()
        for screen in due:
            screen._on_timer_update()
        await _turns()
    raise AssertionError("the screen does not come to rest")


def _seen(app: App[Any]) -> list[Screen[Any]]:
    """Return the screen, and those that are seen beneath it."""
    return [app.screen, *app._background_screens] if app.is_running and app.screen_stack else []


def _is_due(screen: Screen[Any]) -> bool:
    """Whether something is still to be laid out or drawn."""
    if screen._layout_required or screen._scroll_required or screen._callbacks:
        return True
    # One that lies beneath stays marked as to be drawn until it lies there no longer.
    is_beneath = screen is not screen.app.screen
    return not is_beneath and bool(screen._repaint_required or screen._dirty_widgets)


async def _turns() -> None:
    loop = asyncio.get_running_loop()
    ready: list[object] = getattr(loop, "_ready")  # noqa: B009  of asyncio's own loop
    quiet = 0
    for _ in range(TURNS):
        await asyncio.sleep(0)
        quiet = 0 if ready else quiet + 1
        if quiet == QUIET_TURNS:
            return
    raise AssertionError("the app does not come to rest")
