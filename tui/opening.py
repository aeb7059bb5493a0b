"""What a screen opens on: the engine it starts or finds running, and the demo's yard.

They come up in processes of their own; meanwhile the screen itself is loaded, which takes as long.
"""

import os
from concurrent.futures import ThreadPoolExecutor
from importlib import import_module

from streamer.display.sample import sample_display
from streamer.engine.client import EngineLink, attach, client_name, running_engines, start
from streamer.engine.messages import Setup, Show
from streamer.yard.client import start as start_yard

SCREEN = "tui.app"


def engine_of_the_screen(name: str) -> EngineLink:
    """Return a link to the engine called `name`, started if it does not run; LinkError if it cannot be."""
    with ThreadPoolExecutor() as pool:
        coming = pool.submit(_attach_or_start, name, client_name("screen"))
        import_module(SCREEN)
        return coming.result()


def _attach_or_start(name: str, who: str) -> EngineLink:
    return attach(name, who, control=True) if name in running_engines() else start(name, who)


def run_demo() -> int:
    """Open the screen on the sample display and its yard, playing; return the exit status."""
    from tui.start import run

    display, who = sample_display(), client_name("screen")
    with ThreadPoolExecutor() as pool:
        yard_coming = pool.submit(start_yard, display, who)
        engine_coming = pool.submit(start, f"demo-{os.getpid()}", who)
        import_module(SCREEN)
        # The yard first: it says who has its ports, and an engine left alone ends by itself.
        yard = yard_coming.result()
    try:
        return run(
            engine_coming.result(), Setup(display=display), Show(pattern="walk"), yard, plays_at_once=True
        )
    finally:
        yard.close()
