"""One of our own processes by fork: what it would load first is in memory already.

It has a session, signals, streams, environment and exit code of its own, as one that is started anew has.
How one starts anew is shown in `tests/engine/test_process.py` and by whatever `begin` starts.
"""

import os
import signal
import sys
import traceback
from collections.abc import Mapping, Sequence
from importlib import import_module
from types import SimpleNamespace
from typing import IO

from streamer.link import processes

FILES_MOST = 4096
"""More than the tests open."""


class Forked:
    """What `start_process` wants of `subprocess.Popen`."""

    def __init__(  # noqa: PLR0913  the names of Popen
        self,
        command: Sequence[str],
        *,
        stdin: IO[bytes],
        stdout: IO[bytes],
        stderr: IO[bytes],
        env: Mapping[str, str],
        start_new_session: bool,
    ) -> None:
        assert command[1:3] == ["-P", "-m"]
        assert start_new_session
        self.returncode: int | None = None
        for said in (sys.stdout, sys.stderr):
            said.flush()
        self.pid = os.fork()
        if not self.pid:
            _become(command[3:], (stdin, stdout, stderr), env)

    def poll(self) -> int | None:
        """Return the exit code, None while it runs."""
        return self._waited(os.WNOHANG)

    def wait(self) -> int | None:
        """Return the exit code when it has ended."""
        return self._waited(0)

    def kill(self) -> None:
        """End it at once."""
        if self.poll() is None:
            os.kill(self.pid, signal.SIGKILL)

    def _waited(self, options: int) -> int | None:
        if self.returncode is None:
            pid, status = os.waitpid(self.pid, options)
            if pid:
                self.returncode = os.waitstatus_to_exitcode(status)
        return self.returncode


def fork_processes() -> None:
    """Have `start_process` fork from here on, in this process."""
    vars(processes)["subprocess"] = SimpleNamespace(Popen=Forked)


def _become(words: Sequence[str], streams: Sequence[IO[bytes]], environment: Mapping[str, str]) -> None:
    """Run the main function of a module, and end; nothing of the process before is ended in order."""
    code = 1
    try:
        os.setsid()
        _forget_signals()
        _take(streams)
        os.environ.clear()
        os.environ.update(environment)
        sys.argv = [*words]
        code = import_module(words[0]).main()
    except BaseException:  # noqa: BLE001  as an interpreter does at its end
        traceback.print_exc()
    finally:
        for said in (sys.stdout, sys.stderr):
            said.flush()
        os._exit(code)


def _forget_signals() -> None:
    """Handle them as a new interpreter does; what is ignored stays so."""
    signal.set_wakeup_fd(-1)
    for number in signal.valid_signals():
        if callable(signal.getsignal(number)):
            ours = number == signal.SIGINT
            signal.signal(number, signal.default_int_handler if ours else signal.SIG_DFL)


def _take(streams: Sequence[IO[bytes]]) -> None:
    """Have these three streams and no other file; what was read ahead is not read again."""
    for place, stream in enumerate(streams):
        os.dup2(stream.fileno(), place)
    os.closerange(3, FILES_MOST)
    sys.stdin = open(0, closefd=False, encoding="utf-8")  # noqa: SIM115  as long as the process
