"""Starting one of our own processes with a local socket, and finding the ones that run."""

import contextlib
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from pydantic import TypeAdapter

from streamer.errors import LinkError, RopewalkError
from streamer.link.addresses import (
    alone_in,
    clear_away,
    forget_empty_log,
    is_answering,
    log_path,
    socket_path,
)
from streamer.link.channel import Channel, Incoming
from streamer.link.folders import runtime_folder
from streamer.link.server import connect

START_LIMIT_S = 10.0
START_LOOK_S = 0.02
LEAVING_S = 3.0
"""A process whose client was killed is alone for 2 s before it ends; one more to let go of its ports."""
ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1"}
"""NumPy's linear algebra would start a thread for each core beside the one that has to be punctual."""

_children: list["subprocess.Popen[bytes]"] = []
"""Kept so that they are reaped when they end before us; they may as well outlive us."""


def running(suffix: str) -> tuple[str, ...]:
    """Return the names of this user's processes of a kind that answer; what killed ones left is cleared."""
    folder = runtime_folder()
    with alone_in(folder):
        paths = {path: is_answering(path) for path in sorted(folder.glob(f"*{suffix}"))}
        for path in [path for path, answers in paths.items() if not answers]:
            clear_away(path)
    return tuple(path.stem for path, answers in paths.items() if answers)


def as_process(run: Callable[[], object], name: str, suffix: str) -> int:
    """Be the process called `name` from here on, and return its exit status; its log goes if it is empty."""
    try:
        run()
        path = socket_path(name, suffix)
    except RopewalkError as error:
        print(error, file=sys.stderr)  # noqa: T201  the log is this process's standard error
        return 1
    sys.stderr.flush()
    forget_empty_log(path)
    return 0


def start_process(  # noqa: PLR0913, PLR0917  each says one thing about the process
    module: str,
    arguments: Sequence[str],
    name: str,
    suffix: str,
    reports: TypeAdapter[Incoming],
    told: bytes = b"",
) -> Channel[Incoming]:
    """Start `python -m module arguments`, tell it `told` on standard input, and connect to its socket.

    It outlives this process: Ctrl-C and a closed terminal do not reach it. One of that name that is about
    to end is waited for. LinkError when one goes on running, or when it does not come up, with what it said.
    """
    path = socket_path(name, suffix)
    _wait_for_the_last(path)
    if is_answering(path):
        raise LinkError(f"{name}: is running already. Attach to it, or stop it first.")
    log = log_path(path)
    # -P: a file called numpy.py in the folder one happens to be in must not be taken for the real one.
    command = [sys.executable, "-P", "-m", module, *arguments]
    # A file, not a pipe: a pipe would fill up before the process reads.
    with tempfile.TemporaryFile() as telling, log.open("wb") as said:
        telling.write(told)
        telling.seek(0)
        process = subprocess.Popen(  # noqa: S603  our own module, in this interpreter
            command,
            stdin=telling,
            stdout=said,
            stderr=said,
            env={**os.environ, **ONE_THREAD},
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
    with alone_in(path.parent):
        # Not if another of that name was quicker.
        if not is_answering(path):
            log.unlink(missing_ok=True)
            clear_away(path)
    raise LinkError(words or f"{name}: did not come up within {START_LIMIT_S:g} s, and said nothing.")


def _wait_for_the_last(path: Path) -> None:
    limit_s = time.monotonic() + LEAVING_S
    while is_answering(path) and time.monotonic() < limit_s:
        time.sleep(START_LOOK_S)
