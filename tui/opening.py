"""What a screen opens on: the engine it starts or finds running, and the demo's yard.

They come up in processes of their own; meanwhile the screen is loaded and painted, which takes as long.
"""

import os
from concurrent.futures import Future, ThreadPoolExecutor

from streamer.display.sample import sample_display
from streamer.engine.client import EngineLink, attach, client_name, running_engines, start
from streamer.engine.messages import Setup, Show
from streamer.yard.client import YardLink
from streamer.yard.others import start as start_yard


def engine_of_the_screen(name: str) -> Future[EngineLink]:
    """Return the coming link to the engine called `name`, started if it does not run; LinkError within."""
    return ThreadPoolExecutor().submit(_attach_or_start, name, client_name("screen"))


def _attach_or_start(name: str, who: str) -> EngineLink:
    return attach(name, who, control=True) if name in running_engines() else start(name, who)


def run_demo() -> int:
    """Open the screen on the sample display and its yard, playing; return the exit status."""
    from tui.start import run

    display, who = sample_display(), client_name("screen")
    pool = ThreadPoolExecutor()
    yard = pool.submit(start_yard, display, who)
    engine = pool.submit(start, f"demo-{os.getpid()}", who)
    try:
        return run(engine, Setup(display=display), Show(pattern="walk"), yard, plays_at_once=True)
    finally:
        _leave(engine)
        _leave(yard)


def _leave(coming: Future[EngineLink] | Future[YardLink]) -> None:
    """Let go of what has come up, or comes up only now; why it did not is told by the screen."""
    if coming.exception() is None:
        coming.result().close()
