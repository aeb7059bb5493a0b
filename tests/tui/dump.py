"""The screen as plain text, and the stored expectations that it is compared with."""

import os
from pathlib import Path
from typing import Any

from textual._context import visible_screen_stack
from textual.app import App

STORED = Path(__file__).parent / "screens"
RENEW = "ROPEWALK_RENEW_SCREENS"
"""Set this variable to store anew what the screens look like; then read the difference."""


def text_of(app: App[Any]) -> str:
    """Return the screen, a line a row, without the spaces at the ends."""
    width, height = app.size
    lines = []
    # What lies beneath a sheet is taken from this list as it is drawn.
    visible_screen_stack.set(app._background_screens)
    for y, strip in enumerate(app.screen._compositor.render_strips()):
        if y < height:
            lines.append("".join(segment.text for segment in strip)[:width].rstrip())
    return "\n".join(lines) + "\n"


def check(app: App[Any], name: str) -> None:
    """Compare the screen with the stored one of this name."""
    path = STORED / f"{name}.txt"
    now = text_of(app)
    if os.environ.get(RENEW):
        path.write_text(now, encoding="utf-8")
    assert path.exists(), f"{path.name} is not stored: set {RENEW}=1 once and read what it stores"
    assert now == path.read_text(encoding="utf-8")
