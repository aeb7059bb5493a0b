"""What a screen opens on: the engine it starts or finds running, and the demo's yard."""

import os

from streamer.display.sample import sample_display
from streamer.engine.client import EngineLink, attach, client_name, running_engines, start
from streamer.engine.messages import Setup, Show
from streamer.yard.client import start as start_yard


def engine_of_the_screen(name: str) -> EngineLink:
    """Return a link to the engine called `name`, started if it does not run; LinkError if it cannot be."""
    who = client_name("screen")
    return attach(name, who, control=True) if name in running_engines() else start(name, who)


def run_demo() -> int:
    """Open the screen on the sample display and its yard, playing; return the exit status."""
    from tui.start import run

    display = sample_display()
    yard = start_yard(display, client_name("screen"))
    try:
        link = start(f"demo-{os.getpid()}", client_name("screen"))
        return run(link, Setup(display=display), Show(pattern="walk"), yard, plays_at_once=True)
    finally:
        yard.close()
