"""Whether another run of this user sends the same universes to the same place.

Two sources of one priority on a universe are merged or thrown out by the receiver, as its maker chose (ANSI
E1.31-2018 clause 6.2.3): the lights would show neither run's picture.
"""

import time
from collections.abc import Iterator
from typing import NamedTuple

from patterns.registry import get
from streamer.display.addresses import controller_text
from streamer.display.model import Display
from streamer.display.neighbours import neighbours
from streamer.display.numbering import universe_text
from streamer.display.patch import Stream, compile_patch
from streamer.engine.client import attach, client_name, running_engines
from streamer.engine.crossing import Place, crossings, this_network
from streamer.engine.messages import Plan, Setup, Status
from streamer.engine.waiting import reports
from streamer.errors import LinkError

PATIENCE_S = 1.0
WIDEST = "probe"
"""The pattern that sends to the most universes: the neighbours' too."""


class Rival(NamedTuple):
    """A run that is in the way, and the first streams of both that come to one receiver."""

    name: str
    theirs: Place
    ours: Place


def streams_of(display: Display, pattern: str) -> tuple[Stream, ...]:
    """Return what is sent when a pattern plays on a display; PlanError when it cannot."""
    return compile_patch(neighbours(display) if get(pattern).neighbours else display).streams


def rivals(setup: Setup, pattern: str, own: str = "") -> Iterator[Rival]:
    """Yield each run that is in the way.

    The engine called `own` is the one that would send, and in nobody's way. A run may take a second.
    """
    ours, network = _places(setup, pattern), this_network()
    for name in running_engines():
        if name == own:
            continue
        try:
            theirs = _sent_by(name)
        except LinkError:
            continue  # it has ended meanwhile
        both = crossings(ours, theirs, network)
        if first := min(both, key=lambda each: each[0].key.universe, default=None):
            yield Rival(name, theirs=first[1], ours=first[0])


def rival_words(rival: Rival) -> str:
    """Return what is in the way, in a sentence, and how to end it in another."""
    name, theirs, ours = rival
    universe = universe_text(theirs.key.protocol, theirs.key.universe)
    if theirs.key.address == ours.key.address:
        said = (
            f"{ours.controller}: {name} already sends {universe} there, and the two would disturb each other"
        )
    else:
        said = (
            f"{ours.controller}: {name} already sends {universe} to {theirs.key.address}, "
            "and a controller that hears both would be disturbed"
        )
    return f"{said}. End it first: ropewalk stop {name}"


def _places(setup: Setup, pattern: str) -> list[Place]:
    return [
        Place(each.key, setup.interface or "", controller_text(each.controller))
        for each in streams_of(setup.display, pattern)
    ]


def _sent_by(name: str) -> list[Place]:
    """Return what an engine sends now; LinkError when it does not say."""
    plan, status = told_by(name)
    return _places(plan.setup, status.show.pattern) if plan and status.show else []


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
