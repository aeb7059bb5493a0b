"""`ropewalk` that is loaded already: one process forks for each command, as loading takes longer than most.

A command run so is a process with streams, folder, environment and exit code of its own, and so is an engine
that it starts. Only their start, and how an interpreter lets go of all it has, is not shown; `begin`, the
README's commands and the rigs show that.
"""

import atexit
import gc
import json
import os
import socket
import subprocess
import sys
import tempfile
import threading
from collections.abc import Mapping, Sequence
from contextlib import suppress
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import IO, NoReturn

from tests.cli.forked import fork_processes

ROOT = Path(__file__).parents[2]
ROPEWALK = str(Path(sys.executable).with_name("ropewalk"))
LOADED_LATE = (
    "jinja2",
    "matplotlib.backends.backend_svg",
    "matplotlib.dates",
    "matplotlib.figure",
    "scipy.linalg",
    "scipy.special",
    "streamer.capture.reading",
    "streamer.capture.writing",
    "streamer.engine.process",
    "streamer.hear.ears",
    "streamer.hear.process",
    "streamer.report.page",
    "streamer.yard.loop",
    "streamer.yard.process",
)
"""What commands load when they want it: here they have it."""


class Warm:
    """The process that forks, and what it is asked."""

    def __init__(self) -> None:
        self._asked, theirs = socket.socketpair()
        program = f"from tests.cli.warm import serve; serve({theirs.fileno()})"
        # One thread, as it forks: what NumPy computes with would start more.
        more = {"PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
        with theirs:
            self._process = subprocess.Popen(
                [sys.executable, "-P", "-c", program],
                env={**os.environ, **more},
                stdin=subprocess.DEVNULL,
                pass_fds=[theirs.fileno()],
            )

    def close(self) -> None:
        """End the process that forks."""
        self._asked.close()
        self._process.wait()

    def run(
        self, words: Sequence[str], told: str, environment: Mapping[str, str], folder: Path, limit_s: float
    ) -> "subprocess.CompletedProcess[str]":
        """Run `ropewalk` with these words and this standard input; TimeoutExpired after the limit."""
        request = {"words": words, "environment": dict(environment), "folder": str(folder)}
        with (
            tempfile.TemporaryFile("w+") as asking,
            tempfile.TemporaryFile("w+", encoding="utf-8") as out,
            tempfile.TemporaryFile("w+", encoding="utf-8") as err,
        ):
            json.dump(request, asking)
            asking.seek(0)
            code = self._run((asking, out, err), told, limit_s)
            for said in (out, err):
                said.seek(0)
            return subprocess.CompletedProcess(words, code, out.read(), err.read())

    def _run(self, files: Sequence[IO[str]], told: str, limit_s: float) -> int:
        reading, telling = os.pipe()
        try:
            socket.send_fds(self._asked, [b"!"], [reading, *(each.fileno() for each in files)])
        finally:
            os.close(reading)
        # A command that has ended reads nothing more.
        with suppress(BrokenPipeError), os.fdopen(telling, "w") as stdin:
            stdin.write(told)
        pid = self._answer(None)
        try:
            return self._answer(limit_s)
        except TimeoutError:
            os.kill(pid, 9)
            self._answer(None)
            raise subprocess.TimeoutExpired("ropewalk", limit_s) from None

    def _answer(self, limit_s: float | None) -> int:
        self._asked.settimeout(limit_s)
        return int.from_bytes(self._asked.recv(4, socket.MSG_WAITALL), signed=True)


@cache
def warm() -> Warm:
    """Return the process that forks for the commands of this test run; it is started by the first."""
    started = Warm()
    atexit.register(started.close)
    return started


def serve(number: int) -> None:
    """Fork for every request on this socket until it is closed; each child goes on as `ropewalk`."""
    from tui.commands import ENTRIES

    for name in {entry.place.partition(":")[0] for entry in ENTRIES.values()} | {*LOADED_LATE}:
        import_module(name)
    gc.freeze()
    with socket.socket(fileno=number) as asked:
        while fds := socket.recv_fds(asked, 1, 4)[1]:
            child = os.fork()
            if not child:
                break
            for fd in fds:
                os.close(fd)
            asked.sendall(child.to_bytes(4, signed=True))
            status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
            asked.sendall(status.to_bytes(4, signed=True))
    if fds:
        _become_ropewalk(*fds)


def _become_ropewalk(stdin: int, asking: int, out: int, err: int) -> None:
    with os.fdopen(asking) as file:
        request = json.load(file)
    for place, fd in enumerate((stdin, out, err)):
        os.dup2(fd, place)
        os.close(fd)
    os.chdir(request["folder"])
    os.environ.clear()
    os.environ.update(request["environment"])
    sys.argv = [ROPEWALK, *request["words"]]
    fork_processes()
    from tui.command import main

    try:
        main()
    except SystemExit as ended:
        if isinstance(ended.code, int) and threading.active_count() == 1:
            _end(ended.code)
        raise


def _end(code: int) -> NoReturn:
    """End as an interpreter does, but leave the memory to the system, as letting go of it takes longer."""
    atexit._run_exitfuncs()
    for said in (sys.stdout, sys.stderr):
        said.flush()
    os._exit(code)
