"""Draws the README's pictures: the real screen on the demo's real engine and yard.

Not a test: `python -m tests.tui.pictures` renews `tui/pictures/`. The ports of both protocols must be free.
"""

import asyncio
import os
import re
import tempfile
from pathlib import Path

from streamer.display.sample import sample_display
from streamer.engine.client import client_name, start
from streamer.engine.messages import Setup, Show, Stop
from streamer.yard.client import start as start_yard
from tui.app import RopewalkApp

FOLDER = Path(__file__).parents[2] / "tui" / "pictures"
PICTURES = (
    ("demo-120x40", (120, 40), "walk", ("2", "3", "enter")),
    ("find-80x24", (80, 24), "walk", ("w", "enter", "3")),
    ("plan-80x24", (80, 24), "walk", ("a",)),
    ("dark-40x24", (40, 24), "walk", ("space",)),
)
SETTLING_S = 2.0
ENDING_S = 5.0
"""A yard that is left alone keeps its ports a little longer."""
FONTS = "ui-monospace, 'DejaVu Sans Mono', Menlo, Consolas"
FONT_FROM_THE_NETWORK = re.compile(r"@font-face \{.*?\}\s*", re.DOTALL)


async def draw(name: str, size: tuple[int, int], pattern: str, keys: tuple[str, ...]) -> None:
    """Play a pattern, press keys, and keep what the screen shows then."""
    display = sample_display()
    yard = start_yard(display, client_name("pictures"))
    link = start("pictures", client_name("pictures"))
    app = RopewalkApp(link, Setup(display=display), Show(pattern=pattern), yard, plays_at_once=True)
    async with app.run_test(size=size) as pilot:
        await asyncio.sleep(SETTLING_S)
        for key in keys:
            await pilot.press(key)
            await asyncio.sleep(SETTLING_S)
        drawn = app.export_screenshot(title=f"ropewalk demo, {size[0]} by {size[1]}")
        link.send(Stop())
        await asyncio.sleep(SETTLING_S)
    link.close()
    yard.close()
    # A picture fetches nothing: the reader's own monospaced font will do.
    plain = FONT_FROM_THE_NETWORK.sub("", drawn).replace("Fira Code", FONTS)
    # Some viewers would drop the spaces at the start of a row.
    plain = plain.replace("<svg ", '<svg xml:space="preserve" ', 1)
    (FOLDER / f"{name}.svg").write_text(plain)


async def main() -> None:
    """Draw all of them."""
    with tempfile.TemporaryDirectory(dir="/tmp") as folder:
        os.environ["ROPEWALK_RUNTIME_DIR"] = os.environ["ROPEWALK_CONFIG_DIR"] = folder
        for picture in PICTURES:
            await draw(*picture)
            await asyncio.sleep(ENDING_S)


if __name__ == "__main__":
    asyncio.run(main())
