"""The client's end: start a yard in a process of its own, find the ones that run, attach to one."""

from pathlib import Path

from streamer.display.model import Display
from streamer.link import addresses
from streamer.link.channel import Link
from streamer.link.peers import process_at
from streamer.link.processes import running, start_process
from streamer.link.server import connect
from streamer.yard.messages import REPORTS, Report

SUFFIX = ".yard"
USUAL_NAME = "yard"
"""Only one yard at a time can hold the protocols' ports, so one name is enough."""


YardLink = Link[Report]
"""A yard that a client started ends 2 s after the last one has closed its link."""


def socket_path(name: str) -> Path:
    """Return where the yard called `name` listens; LinkError for a name that cannot be."""
    return addresses.socket_path(name, SUFFIX)


def running_yards() -> tuple[str, ...]:
    """Return the names of this user's yards that answer."""
    return running(SUFFIX)


def yard_processes() -> frozenset[int]:
    """Return the processes of this user's yards that answer; none where the system does not tell."""
    found = (process_at(socket_path(name)) for name in running_yards())
    return frozenset(process for process in found if process is not None)


def attach(name: str) -> YardLink:
    """Attach to a running yard; LinkError when it does not answer."""
    return connect(socket_path(name), REPORTS)


def start(display: Display, client: str, name: str = USUAL_NAME) -> YardLink:
    """Start a yard of a display in a process of its own and attach to it; `client` says for whom, in words.

    LinkError with the yard's words when it does not come up, most often because a port is taken.
    """
    told = display.model_dump_json().encode()
    return start_process("streamer.yard.process", [name, client], name, SUFFIX, REPORTS, told)
