"""The client's end: start a yard in a process of its own, find the ones that run, attach to one."""

import time
from pathlib import Path
from typing import Protocol

from pydantic import BaseModel

from streamer.display.model import Display
from streamer.link import addresses
from streamer.link.processes import running, start_process
from streamer.link.server import connect
from streamer.yard.messages import REPORTS, Report

SUFFIX = ".yard"
USUAL_NAME = "yard"
"""Only one yard at a time can hold the protocols' ports, so one name is enough."""
LEAVING_S = 3.0
"""A yard whose client was killed is alone for 2 s before it ends; one more to let go of its ports."""
LEAVING_LOOK_S = 0.05


class YardLink(Protocol):
    """What a client needs of a yard; a test may stand in for it."""

    is_open: bool

    def send(self, message: BaseModel, /) -> None:
        """Send one of the requests in `streamer.yard.messages`."""

    def receive(self) -> list[Report]:
        """Return the reports that have arrived, without waiting."""

    def flush(self) -> None:
        """Send on what could not be sent at once; call it now and then, as when reports arrive."""

    def fileno(self) -> int:
        """Return the descriptor to wait on."""

    def close(self) -> None:
        """Detach. A yard that a client started ends 2 s after the last one has gone."""


def socket_path(name: str) -> Path:
    """Return where the yard called `name` listens; LinkError for a name that cannot be."""
    return addresses.socket_path(name, SUFFIX)


def running_yards() -> tuple[str, ...]:
    """Return the names of this user's yards that answer."""
    return running(SUFFIX)


def attach(name: str) -> YardLink:
    """Attach to a running yard; LinkError when it does not answer."""
    return connect(socket_path(name), REPORTS)


def start(display: Display, client: str, name: str = USUAL_NAME) -> YardLink:
    """Start a yard of a display in a process of its own and attach to it; `client` says for whom, in words.

    One of that name that is about to end is waited for. LinkError with the yard's words when it does not
    come up, most often because a port is taken.
    """
    limit_s = time.monotonic() + LEAVING_S
    while name in running_yards() and time.monotonic() < limit_s:
        time.sleep(LEAVING_LOOK_S)
    told = display.model_dump_json().encode()
    return start_process("streamer.yard.process", [name, client], name, SUFFIX, REPORTS, told)
