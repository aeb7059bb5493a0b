"""Yards that run already: what each says of itself, how it is ended, and that it is in another's way."""

import select
import time

from streamer.display.model import Display
from streamer.display.places import plain
from streamer.errors import LinkError
from streamer.net.who import processes_on_udp_port
from streamer.yard.client import YardLink, attach, running_yards, yard_processes
from streamer.yard.client import start as start_process
from streamer.yard.messages import Close, YardStatus
from streamer.yard.sockets import PORTS

PATIENCE_S = 3.0


def start(display: Display, client: str) -> YardLink:
    """Start a yard as `client.start` does; LinkError says how to end or use one that is in its way."""
    try:
        return start_process(display, client)
    except LinkError as error:
        raise LinkError(in_the_way() or str(error)) from error


def in_the_way() -> str:
    """Return which yard of this user's holds the ports, and how to end or use it; "" where none does."""
    held = frozenset().union(*(processes_on_udp_port(port) for port in PORTS.values()))
    names = running_yards()
    if not names or not held & yard_processes():
        return ""
    name = names[0]
    try:
        what = yard_words(status_of(name))
    except LinkError as error:
        what = str(error)
    return (
        f"{name} runs already: {what}. Only one can hold the ports of E1.31 and Art-Net. "
        f"End it: ropewalk stop {name}. Or use it: ropewalk send walk FILE --to 127.0.0.1"
    )


def yard_words(status: YardStatus) -> str:
    """Return what a yard is, in words."""
    live = sum(port.is_live for port in status.ports)
    return (
        f"virtual controllers of {plain(status.display)}, {live} of {len(status.ports)} ports receive; "
        f"started by {plain(status.started_by) or 'hand'}"
    )


def status_of(name: str) -> YardStatus:
    """Return what the yard called `name` says of itself; LinkError when it does not."""
    link = attach(name)
    try:
        limit_s = time.monotonic() + PATIENCE_S
        while link.is_open and (left_s := limit_s - time.monotonic()) > 0:
            select.select([link], [], [], left_s)
            for report in link.receive():
                if isinstance(report, YardStatus):
                    return report
    finally:
        link.close()
    raise LinkError(f"{name} does not say how it stands")


def end(name: str) -> None:
    """End the yard called `name`; LinkError when it does not answer, or does not end."""
    link = attach(name)
    try:
        link.send(Close())
        limit_s = time.monotonic() + PATIENCE_S
        while link.is_open and (left_s := limit_s - time.monotonic()) > 0:
            select.select([link], [], [], left_s)
            link.receive()
        if link.is_open:
            raise LinkError(f"{name} was asked to end, and has not within {PATIENCE_S:g} s.")
    finally:
        link.close()
