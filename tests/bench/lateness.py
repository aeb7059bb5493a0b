"""How punctual an engine is while the real screen redraws at its fastest, and the yard hears and shows all.

`python -m tests.bench.lateness [--quick] [--seconds N] [--usual] [--json]`. The demo's screen is open in a
pseudo-terminal that takes all it draws; another client has the engine play a walk that moves in every frame.
Beside it, meanwhile, a C program that only waits as often: no program on this machine could be less late.
Real-time scheduling is used where the system allows it; `--usual` takes it away, from both. Loopback only; a
minute, or five seconds, up to N of 600.
"""

import fcntl
import os
import pty
import signal
import struct
import subprocess
import sys
import termios
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import NamedTuple

import psutil

from streamer.engine.client import EngineLink, attach, client_name, running_engines
from streamer.engine.messages import RATE_DEFAULT_HZ, Plan, Play, Status, TakeControl
from streamer.engine.punctuality import PRIORITY, ask_for_short_turns
from streamer.engine.waiting import wait_for
from tests.bench.engines import PATIENCE_S, SETTLING_S, engine_below, latest, moving, own_folders
from tests.bench.measuring import asked_seconds, compiled, print_found

SECONDS_MAX = 600.0
ROWS, COLUMNS = 50, 160
REMOTE = ("SSH_CONNECTION", "SSH_CLIENT", "SSH_TTY")
"""Where these are set the screen draws less often, to spare the line."""
READ_OCTETS = 1 << 16
LOOK_S = 0.05
HEADS = ("us late", "p50", "p90", "p99", "p99.9", "max", "frames", "skipped", "late")


class Found(NamedTuple):
    """What was found."""

    status: Status
    drawn: float
    """Octets a second."""
    waiting: Sequence[str]
    """How late a program was that only waits, as `HEADS` has it; nothing where there is no compiler."""


class Screen:
    """The demo's screen in a process of its own, on a pseudo-terminal that is read at once."""

    def __init__(self) -> None:
        self._ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
        environment = {name: value for name, value in os.environ.items() if name not in REMOTE}
        environment |= {"TERM": "xterm-256color", "COLORTERM": "truecolor"}
        command = [sys.executable, "-c", "from tui.command import main; main()", "demo"]
        self.process = subprocess.Popen(
            command, stdin=theirs, stdout=theirs, stderr=theirs, env=environment, start_new_session=True
        )
        os.close(theirs)
        self.octets = 0
        """How much it has drawn so far."""
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        while True:
            try:
                self.octets += len(os.read(self._ours, READ_OCTETS))
            except OSError:  # Linux says EIO when nobody has the other end any more
                return

    def close(self) -> None:
        """Leave the screen, and wait until its engine and its yard have gone with it: they hold ports."""
        below = psutil.Process(self.process.pid).children(recursive=True)
        self.process.send_signal(signal.SIGTERM)
        self.process.wait(PATIENCE_S)
        psutil.wait_procs(below, PATIENCE_S)


@contextmanager
def _screen() -> Iterator[Screen]:
    screen = Screen()
    try:
        yield screen
    finally:
        screen.close()


def _engine_of(screen: Screen) -> EngineLink:
    name, limit_s = f"demo-{screen.process.pid}", time.monotonic() + PATIENCE_S
    while name not in running_engines() and time.monotonic() < limit_s:
        time.sleep(LOOK_S)
    return attach(name, client_name("a bench"), control=False)


def measured(seconds: float, *, is_usual: bool) -> Found:
    """Return what the engine tells of a run of so many seconds, and what was found beside it."""
    with own_folders() as folder, _screen() as screen:
        program = compiled(folder)
        link = _engine_of(screen)
        plan = wait_for(link, Plan, PATIENCE_S)
        if is_usual:
            engine = engine_below(screen.process.pid)
            os.sched_setscheduler(engine.pid, os.SCHED_OTHER, os.sched_param(0))
            # That took away the short turns, which an engine keeps that never was real-time.
            ask_for_short_turns(engine.pid)
        latest(link, SETTLING_S)
        link.send(TakeControl())
        link.send(Play(setup=plan.setup, show=moving("walk")))
        wait_for(link, Plan, PATIENCE_S)
        drawn, began_s = screen.octets, time.monotonic()
        with _waiting(program, seconds, is_usual=is_usual) as waiting:
            status = latest(link, seconds)
            return Found(status, (screen.octets - drawn) / (time.monotonic() - began_s), waiting())


@contextmanager
def _waiting(
    program: Path | None, seconds: float, *, is_usual: bool
) -> Iterator[Callable[[], Sequence[str]]]:
    """Let the C program wait beside; yield what returns how late it was, in the order of the columns."""
    if program is None:
        yield tuple
        return
    priority = 0 if is_usual else PRIORITY
    command = [str(program), "wait", str(seconds), str(RATE_DEFAULT_HZ), str(priority)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as waiting:
        try:
            yield partial(_said_by, waiting)
        finally:
            waiting.kill()


def _said_by(program: subprocess.Popen[str]) -> list[str]:
    return program.communicate()[0].split()


def main() -> None:
    """Measure, and print a table or JSON."""
    is_usual = "--usual" in sys.argv
    seconds = min(asked_seconds(quick_s=5.0, whole_s=60.0), SECONDS_MAX)
    status, drawn, waiting = measured(seconds, is_usual=is_usual)
    late, counts = status.lateness, status.counts
    scheduling = "usual priority, by request" if is_usual else status.scheduling.partition(";")[0]
    row = [
        "the engine",
        *(f"{each:.0f}" for each in (late.p50_us, late.p90_us, late.p99_us, late.p999_us, late.max_us)),
        *(str(each) for each in (counts.frames, counts.skipped, counts.late)),
    ]
    rows = [row, ["C that only waits", *waiting, ""]] if waiting else [row]
    plain = status.model_dump(mode="json", include={"seconds", "lateness", "counts"})
    beside = dict(zip(HEADS[1:], map(int, waiting), strict=False))
    print_found(
        plain | {"drawn_octets_a_second": drawn, "scheduling": scheduling, "beside": beside},
        HEADS,
        rows,
        f"{status.seconds:.0f} s; scheduling: {scheduling}; the screen drew {drawn / 1000:.0f} kB a second",
    )


if __name__ == "__main__":
    main()
