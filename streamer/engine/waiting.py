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
    link.flush()
    arrived = link.receive() or _arriving(link, seconds)
    if not arrived and not link.is_open:
        raise LinkError(
            "The engine has gone without a word. Its lights keep their last look or go dark by themselves; "
            "start again to take them over."
        )
    return arrived


def _arriving(link: EngineLink, seconds: float) -> list[Report]:
    limit_s = time.monotonic() + seconds
    while link.is_open and (left_s := limit_s - time.monotonic()) > 0:
        to_write = [link.fileno()] if link.is_waiting else []
        readable, _, _ = select.select([link.fileno()], to_write, [], left_s)
        link.flush()
        if readable:
            break
    return link.receive()


def wait_for(link: EngineLink, wanted: type[Wanted], seconds: float = PATIENCE_S) -> Wanted:
    """Return the first report of a kind; LinkError with the reason when something is refused instead.

    What else has come is given back to the link, in its order.
    """
    limit_s = time.monotonic() + seconds
    others: list[Report] = []
    try:
        while (left_s := limit_s - time.monotonic()) > 0:
            arrived = reports(link, left_s)
            while arrived:
                report = arrived.pop(0)
                if isinstance(report, wanted):
                    others += arrived
                    return report
                if isinstance(report, Refused):
                    others += arrived
                    raise LinkError(report.reason)
                others.append(report)
    finally:
        link.give_back(others)
    raise LinkError(f"The engine did not answer within {seconds:g} s.")


def settled_status(name: str) -> Status:
    """Return what the engine called `name` is doing."""
    link = attach(name, client_name("a look"), control=False)
    try:
        return wait_for(link, Status)
    finally:
        link.close()
