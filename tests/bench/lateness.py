"""How punctual an engine is while the real screen redraws at its fastest, and the yard hears and shows all.

`python -m tests.bench.lateness [--quick] [--seconds N] [--usual] [--json]`. The demo's screen is open in a
pseudo-terminal that takes all it draws; another client has the engine play a walk that moves in every frame.
Real-time scheduling is used where the system allows it; `--usual` takes it away. Loopback only; a minute, or
five seconds, up to N of 600.
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
from collections.abc import Iterator
from contextlib import contextmanager

import psutil

from streamer.engine.client import EngineLink, attach, client_name, running_engines
from streamer.engine.messages import Plan, Play, Status, TakeControl
from streamer.engine.punctuality import ask_for_short_turns
from streamer.engine.waiting import wait_for
from tests.bench.engines import PATIENCE_S, SETTLING_S, engine_below, latest, moving, own_folders
from tests.bench.measuring import asked_seconds, print_found

SECONDS_MAX = 600.0
ROWS, COLUMNS = 50, 160
REMOTE = ("SSH_CONNECTION", "SSH_CLIENT", "SSH_TTY")
"""Where these are set the screen draws less often, to spare the line."""
READ_OCTETS = 1 << 16
LOOK_S = 0.05
HEADS = ("seconds", "p50", "p90", "p99", "p99.9", "max", "frames", "late", "skipped", "drawn", "scheduling")


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


def measured(seconds: float, *, is_usual: bool) -> tuple[Status, float]:
    """Return what the engine tells of a run of so many seconds, and the octets a second that were drawn."""
    with own_folders(), _screen() as screen:
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
        status = latest(link, seconds)
        return status, (screen.octets - drawn) / (time.monotonic() - began_s)


def main() -> None:
    """Measure, and print a table or JSON."""
    is_usual = "--usual" in sys.argv
    seconds = min(asked_seconds(quick_s=5.0, whole_s=60.0), SECONDS_MAX)
    status, drawn = measured(seconds, is_usual=is_usual)
    late, counts = status.lateness, status.counts
    scheduling = "usual priority, by request" if is_usual else status.scheduling.partition(";")[0]
    row = [
        f"{status.seconds:.0f}",
        *(f"{each:.0f} us" for each in (late.p50_us, late.p90_us, late.p99_us, late.p999_us, late.max_us)),
        *(str(each) for each in (counts.frames, counts.late, counts.skipped)),
        f"{drawn / 1000:.0f} kB/s",
        scheduling,
    ]
    plain = status.model_dump(mode="json", include={"seconds", "lateness", "counts"})
    print_found(plain | {"drawn_octets_a_second": drawn, "scheduling": scheduling}, HEADS, [row])


if __name__ == "__main__":
    main()
