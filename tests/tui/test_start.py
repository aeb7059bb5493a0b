"""The screen in a real pseudo-terminal: whatever ends it, the terminal is given back and the status tells."""

import os
import pty
import select
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

PROGRAM = """
import sys
sys.path.insert(0, {tests!r})
from pathlib import Path
from fakes import FakeEngine, boathouse
from streamer.engine.messages import Setup
from tui.start import run
{more}
sys.exit(run(FakeEngine(Path({folder!r})), Setup(display=boathouse())))
"""
CRASH = """
from tui.app import RopewalkApp
def fail(self):
    raise RuntimeError("this is a test")
RopewalkApp.action_help = fail
"""
NEVER_WRITTEN = """
import os, threading
from textual.drivers.linux_driver import LinuxDriver
def held_up(self):
    os.write(2, b"closing is held up")
    threading.Event().wait()
LinuxDriver.stop_application_mode = held_up
"""
NEVER_UP = """
from concurrent.futures import Future
from streamer.errors import LinkError
import threading
class FakeEngine(Future):
    def __init__(self, folder):
        super().__init__()
        threading.Timer({wait_s}, self.set_exception, [LinkError("no engine today")]).start()
"""
LEAVES_ALTERNATE_SCREEN = b"\x1b[?1049l"
"""xterm control sequences, DEC private mode 1049."""
STOPS_MOUSE = b"\x1b[?1000l"
"""The same, mode 1000."""
LIMIT_S = 20


class Terminal:
    """A process on a pseudo-terminal."""

    def __init__(self, folder: Path, more: str = "") -> None:
        program = PROGRAM.format(tests=str(Path(__file__).parent), folder=str(folder), more=more)
        ours, theirs = pty.openpty()
        self._descriptor = ours
        self.process = subprocess.Popen(
            [sys.executable, "-c", program],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            start_new_session=True,
        )
        os.close(theirs)
        self.said = b""

    def read_until(self, mark: bytes) -> None:
        """Read until the mark was said."""
        limit = time.monotonic() + LIMIT_S
        while mark not in self.said:
            assert time.monotonic() < limit, self.said[-2000:]
            self._read()

    def _read(self) -> bool:
        if not select.select([self._descriptor], [], [], 0.1)[0]:
            return self.process.poll() is None
        try:
            self.said += os.read(self._descriptor, 65536)
        except OSError:  # Linux says EIO when nobody has the other end any more
            return False
        return True

    def press(self, keys: bytes) -> None:
        """Type."""
        os.write(self._descriptor, keys)

    def status(self) -> int:
        """Read to the end, and return the exit status."""
        limit = time.monotonic() + LIMIT_S
        while self._read():
            assert time.monotonic() < limit
        status = self.process.wait(LIMIT_S)
        os.close(self._descriptor)
        return status


@pytest.fixture
def terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Terminal]:
    """Return what opens the screen in a terminal, up to the first picture."""
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parents[2]))

    def opened(more: str = "") -> Terminal:
        started = Terminal(tmp_path, more)
        started.read_until(b"boathouse")
        return started

    return opened


@pytest.mark.parametrize("number", [pytest.param(signal.SIGTERM, marks=pytest.mark.slow), signal.SIGHUP])
def test_a_signal_gives_the_terminal_back(terminal: Callable[..., Terminal], number: signal.Signals):
    """SIGTERM and SIGHUP leave neither mouse mode nor alternate screen behind; the status is 128 + number."""
    started = terminal()
    started.process.send_signal(number)
    assert started.status() == 128 + number
    assert LEAVES_ALTERNATE_SCREEN in started.said
    assert STOPS_MOUSE in started.said


@pytest.mark.slow
def test_a_signal_ends_it_even_while_a_terminal_that_reads_nothing_holds_up_the_closing(
    terminal: Callable[..., Terminal],
):
    """After q into a terminal that stands still, SIGTERM still ends the process, without being read to."""
    started = terminal(NEVER_WRITTEN)
    started.press(b"q")
    started.read_until(b"closing is held up")
    started.process.send_signal(signal.SIGTERM)
    assert started.process.wait(LIMIT_S) == 128 + signal.SIGTERM


@pytest.mark.parametrize("wait_s", [0.1, *(pytest.param(each, marks=pytest.mark.slow) for each in (0, 1))])
def test_an_engine_that_does_not_come_up_is_one_sentence(terminal: Callable[..., Terminal], wait_s: float):
    """The screen is painted before its engine is there; if that fails, late or early, it says only why."""
    started = terminal(NEVER_UP.format(wait_s=wait_s))
    assert started.status() == 1
    assert LEAVES_ALTERNATE_SCREEN in started.said
    assert b"streamer.errors.LinkError: no engine today" in started.said
    assert b"NoMatches" not in started.said


def test_leaving_by_q_is_success(terminal: Callable[..., Terminal]):
    """The usual way out is status 0."""
    started = terminal()
    started.press(b"q")
    assert started.status() == 0
    assert LEAVES_ALTERNATE_SCREEN in started.said


def test_a_crash_is_not_success(terminal: Callable[..., Terminal]):
    """A bug in an action gives the terminal back and a status that a supervisor sees."""
    started = terminal(CRASH)
    started.press(b"?")
    assert started.status() == 1
    assert LEAVES_ALTERNATE_SCREEN in started.said


def test_a_crash_in_the_input_thread_is_not_success(terminal: Callable[..., Terminal]):
    """Octets that are no UTF-8, as of an old mouse report past column 95, end the screen with status 1."""
    started = terminal()
    started.press(b"\x1b[M \xff\xff")
    assert started.status() == 1
    assert LEAVES_ALTERNATE_SCREEN in started.said


def test_without_a_terminal_it_says_so(tmp_path: Path):
    """Into a pipe nothing is drawn: one sentence and status 2."""
    program = PROGRAM.format(tests=str(Path(__file__).parent), folder=str(tmp_path), more="")
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, stdin=subprocess.DEVNULL, check=False,
        text=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )  # fmt: skip
    assert done.returncode == 2
    assert "needs a terminal" in done.stderr
    assert "\x1b" not in done.stdout + done.stderr
