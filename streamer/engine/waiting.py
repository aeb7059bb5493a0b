"""Waiting for what an engine says, for clients without an event loop."""

import select
import time
from typing import TypeVar

from streamer.engine.client import EngineLink, attach, client_name
from streamer.engine.messages import Ended, Plan, Refused, Report, Status
from streamer.errors import LinkError

PATIENCE_S = 10.0

Wanted = TypeVar("Wanted", Plan, Status, Ended)


def reports(link: EngineLink, seconds: float) -> list[Report]:
    """Return what arrives within `seconds`, as soon as anything does; LinkError when the engine has gone."""
    limit_s = time.monotonic() + seconds
    while link.is_open and (left_s := limit_s - time.monotonic()) > 0:
        to_write = [link.fileno()] if link.is_waiting else []
        readable, _, _ = select.select([link.fileno()], to_write, [], left_s)
        link.flush()
        if readable:
            break
    arrived = link.receive()
    if not arrived and not link.is_open:
        raise LinkError(
            "The engine has gone without a word. Its lights keep their last look or go dark by themselves; "
            "start again to take them over."
        )
    return arrived


def wait_for(link: EngineLink, wanted: type[Wanted], seconds: float = PATIENCE_S) -> Wanted:
    """Return the first report of a kind; LinkError with the reason when something is refused instead."""
    limit_s = time.monotonic() + seconds
    while (left_s := limit_s - time.monotonic()) > 0:
        for report in reports(link, left_s):
            if isinstance(report, wanted):
                return report
            if isinstance(report, Refused):
                raise LinkError(report.reason)
    raise LinkError(f"The engine did not answer within {seconds:g} s.")


def settled_status(name: str) -> Status:
    """Return what the engine called `name` is doing."""
    link = attach(name, client_name("a look"), control=False)
    try:
        return wait_for(link, Status)
    finally:
        link.close()
