"""Whether another run of this user sends the same universes to the same place.

Two sources of one priority on a universe are merged or thrown out by the receiver, as its maker chose (ANSI
E1.31-2018 clause 6.2.3): the lights would show neither run's picture.
"""

import time
from collections.abc import Iterator

from patterns.registry import get
from streamer.display.model import GROUPS, Display
from streamer.display.neighbours import neighbours
from streamer.display.numbering import universe_text
from streamer.display.patch import Stream, StreamKey, compile_patch
from streamer.engine.client import attach, client_name, running_engines
from streamer.engine.messages import Plan, Setup, Status
from streamer.engine.waiting import reports
from streamer.errors import LinkError

PATIENCE_S = 1.0
WIDEST = "probe"
"""The pattern that sends to the most universes: the neighbours' too."""
Place = tuple[StreamKey, str]
"""A stream, and for groups the interface that they leave by."""


def streams_of(display: Display, pattern: str) -> tuple[Stream, ...]:
    """Return what is sent when a pattern plays on a display; PlanError when it cannot."""
    return compile_patch(neighbours(display) if get(pattern).neighbours else display).streams


def rivals(setup: Setup, pattern: str, own: str = "") -> Iterator[tuple[str, StreamKey]]:
    """Yield the name of each run that is in the way, and the first stream that both would send.

    The engine called `own` is the one that would send, and in nobody's way. A run may take a second.
    """
    ours = _places(setup, pattern)
    for name in running_engines():
        if name == own:
            continue
        try:
            both = ours & _sent_by(name)
        except LinkError:
            continue  # it has ended meanwhile
        if both:
            yield name, min((key for key, _ in both), key=lambda key: key.universe)


def rival_words(name: str, key: StreamKey) -> str:
    """Return what is in the way, in a sentence, and how to end it in another."""
    where = f"{universe_text(key.protocol, key.universe)} to {key.address}"
    return (
        f"{name} already sends {where}, and the two would disturb each other. "
        f"End it first: ropewalk stop {name}"
    )


def _places(setup: Setup, pattern: str) -> set[Place]:
    leaves_by = setup.interface or ""
    keys = (stream.key for stream in streams_of(setup.display, pattern))
    return {(key, leaves_by if key.address in GROUPS else "") for key in keys}


def _sent_by(name: str) -> set[Place]:
    """Return what an engine sends now; LinkError when it does not say."""
    plan, status = told_by(name)
    return _places(plan.setup, status.show.pattern) if plan and status.show else set()


def told_by(name: str) -> tuple[Plan | None, Status]:
    """Return what an engine plays on, None while it is idle, and how; LinkError when it does not say."""
    link = attach(name, client_name("a look"), control=False)
    plan, limit_s = None, time.monotonic() + PATIENCE_S
    try:
        while time.monotonic() < limit_s:
            for report in reports(link, PATIENCE_S):
                if isinstance(report, Plan):
                    plan = report
                elif isinstance(report, Status):
                    return plan, report
    finally:
        link.close()
    raise LinkError(f"{name}: does not say what it sends.")
