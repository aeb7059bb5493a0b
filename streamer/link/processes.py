"""Starting one of our own processes with a local socket, and finding the ones that run."""

import contextlib
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence

from pydantic import TypeAdapter

from streamer.errors import LinkError
from streamer.link.channel import Channel, Incoming
from streamer.link.folders import runtime_folder
from streamer.link.server import connect, is_answering

START_LIMIT_S = 10.0
START_LOOK_S = 0.02

_children: list["subprocess.Popen[bytes]"] = []
"""Kept so that they are reaped when they end before us; they may as well outlive us."""


def running(suffix: str) -> tuple[str, ...]:
    """Return the names of this user's processes of a kind that answer; what killed ones left is cleared."""
    answering = []
    for path in sorted(runtime_folder().glob(f"*{suffix}")):
        if is_answering(path):
            answering.append(path.stem)
        else:
            path.unlink(missing_ok=True)
            for left in path.parent.glob(f"{path.stem}.*.frame"):
                left.unlink(missing_ok=True)
    return tuple(answering)


def start_process(
    module: str,
    arguments: Sequence[str],
    name: str,
    suffix: str,
    reports: TypeAdapter[Incoming],
    told: bytes = b"",
) -> Channel[Incoming]:
    """Start `python -m module arguments`, tell it `told` on standard input, and connect to its socket.

    It outlives this process: Ctrl-C and a closed terminal do not reach it. LinkError when one of that
    name runs already, or when it does not come up, with what it said.
    """
    path = runtime_folder() / f"{name}{suffix}"
    if is_answering(path):
        raise LinkError(f"{name}: is running already. Attach to it, or stop it first.")
    log = path.with_name(path.name + ".log")
    # A file, not a pipe: a pipe would fill up before the process reads.
    with tempfile.TemporaryFile() as telling, log.open("wb") as said:
        telling.write(told)
        telling.seek(0)
        process = subprocess.Popen(
            [sys.executable, "-m", module, *arguments],
            stdin=telling,
            stdout=said,
            stderr=said,
            start_new_session=True,
        )
    _children.append(process)
    limit_s = time.monotonic() + START_LIMIT_S
    while time.monotonic() < limit_s and process.poll() is None:
        with contextlib.suppress(LinkError):
            return connect(path, reports)
        time.sleep(START_LOOK_S)
    process.kill()
    process.wait()
    words = log.read_text(errors="replace").strip()
    raise LinkError(words or f"{name}: did not come up within {START_LIMIT_S:g} s, and said nothing.")
