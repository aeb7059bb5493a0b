"""The client's end: start a yard in a process of its own, find the ones that run, attach to one."""

import contextlib
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Protocol

from pydantic import BaseModel

from streamer.display.model import Display
from streamer.errors import LinkError
from streamer.link.folders import runtime_folder
from streamer.link.server import connect, is_answering
from streamer.yard.messages import REPORTS, Report

SUFFIX = ".yard"
USUAL_NAME = "yard"
"""The protocols' ports can be held by one yard at a time, so one name is enough for most."""
START_LIMIT_S = 10.0
START_LOOK_S = 0.02


class YardLink(Protocol):
    """What a client needs of a yard; a test may stand in for it."""

    is_open: bool

    def send(self, message: BaseModel, /) -> None:
        """Send one of the requests in `streamer.yard.messages`."""

    def receive(self) -> list[Report]:
        """Return the reports that have arrived, without waiting."""

    def fileno(self) -> int:
        """Return the descriptor to wait on."""

    def close(self) -> None:
        """Detach. A yard that a client started ends soon after the last one has gone."""


def socket_path(name: str) -> Path:
    """Return where the yard called `name` listens."""
    return runtime_folder() / f"{name}{SUFFIX}"


def running_yards() -> tuple[str, ...]:
    """Return the names of this user's yards that answer; what a killed one left behind is cleared away."""
    answering = []
    for path in sorted(runtime_folder().glob(f"*{SUFFIX}")):
        if is_answering(path):
            answering.append(path.stem)
        else:
            path.unlink(missing_ok=True)
            path.with_suffix(FRAME_SUFFIX).unlink(missing_ok=True)
    return tuple(answering)


def attach(name: str) -> YardLink:
    """Attach to a running yard; LinkError when it does not answer."""
    return connect(socket_path(name), REPORTS)


def start(display: Display, client: str, name: str = USUAL_NAME) -> YardLink:
    """Start a yard of a display in a process of its own and attach to it.

    It ends soon after the last client has gone. LinkError when it does not come up, with what it
    said: most often that another program holds a port.
    """
    path = socket_path(name)
    if is_answering(path):
        raise LinkError(f"{name}: is running already. Attach to it, or stop it first.")
    log = path.with_suffix(".yard-log")
    # A file that is gone when both have closed it: a pipe would fill up under a large display.
    with tempfile.TemporaryFile() as plan, log.open("wb") as said:
        plan.write(display.model_dump_json().encode())
        plan.seek(0)
        process = subprocess.Popen(
            [sys.executable, "-m", "streamer.yard.process", name, client],
            stdin=plan,
            stdout=said,
            stderr=said,
            start_new_session=True,
        )
    limit = time.monotonic() + START_LIMIT_S
    while time.monotonic() < limit and process.poll() is None:
        with contextlib.suppress(LinkError):
            return attach(name)
        time.sleep(START_LOOK_S)
    process.kill()
    process.wait()
    raise LinkError(f"The yard did not start. It said: {log.read_text(errors='replace').strip() or 'nothing'}")
