"""A real engine in its own process for the benches, sending to a reader, and what it used meanwhile."""

import ctypes
import os
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psutil

from streamer.display.model import Protocol
from streamer.display.ranges import display_from_ranges
from streamer.engine.client import EngineLink, attach, client_name, start
from streamer.engine.messages import (
    Ended,
    Lateness,
    Leash,
    Plan,
    Play,
    Setup,
    Show,
    Status,
    Stop,
    TakeControl,
)
from streamer.engine.waiting import reports, wait_for
from streamer.wire import e131
from tests.bench.measuring import SENDERS_CORE, pin, reading

ADDRESS = "127.77.77.77"
"""An address of loopback that nobody else listens at."""
SETTLING_S = 2.0
"""The caches of the program are filled, the first frames are past, and as many are made ahead as will be."""
LEAVING_S = 0.3
"""By then an engine has noticed that nobody is attached any more."""
PATIENCE_S = 30.0
FULL_PERCENT = 100.0
ENGINE = "streamer.engine.process"


@dataclass(frozen=True)
class Spent:
    """What a run did in a while, and the processor time that its process used for it."""

    cpu_s: float
    seconds: float
    frames: int
    packets: int
    skipped: int
    heard: int
    sent: int
    """Heard and sent are of the whole run, its end included."""
    lateness: Lateness

    @property
    def us_a_packet(self) -> float:
        """Processor time for each universe of each frame."""
        return self.cpu_s / self.packets * 1e6


@contextmanager
def own_folders() -> Iterator[Path]:
    """Give the processes of a bench folders of their own."""
    with tempfile.TemporaryDirectory(prefix="rw") as folder:
        os.environ["ROPEWALK_RUNTIME_DIR"] = f"{folder}/run"
        os.environ["ROPEWALK_CONFIG_DIR"] = f"{folder}/config"
        yield Path(folder)


def moving(pattern: str, rate_hz: float = 40.0) -> Show:
    """Return a show that is another picture in every frame, at full level."""
    return Show(pattern=pattern, pace=rate_hz, rate_hz=rate_hz, level_percent=FULL_PERCENT)


def spent(program: Path | None, universes: int, show: Show, seconds: float, **setup: Any) -> Spent:
    """Let an engine of its own play to a reader for a while, and tell us five times a second how it does.

    Universes of 170 RGB nodes, unicast E1.31.
    """
    with reading(program, ADDRESS, e131.PORT) as (_, end), _engine() as (link, clock):
        _play(link, universes, show, setup)
        before, cpu_before_s, began_s = latest(link, 0), time.clock_gettime(clock), time.monotonic()
        after, cpu_s, ended_s = latest(link, seconds), time.clock_gettime(clock), time.monotonic()
        link.send(Stop())
        ended = wait_for(link, Ended, PATIENCE_S)
        return Spent(
            cpu_s=cpu_s - cpu_before_s,
            seconds=ended_s - began_s,
            frames=after.counts.frames - before.counts.frames,
            packets=after.counts.packets - before.counts.packets,
            skipped=after.counts.skipped - before.counts.skipped,
            heard=end(),
            sent=ended.counts.packets,
            lateness=after.lateness,
        )


def spent_alone(program: Path | None, universes: int, show: Show, seconds: float, **setup: Any) -> float:
    """Return the microseconds of processor time for each universe of each frame while nobody is attached.

    Frames are reckoned by the clock, less all that the run skipped.
    """
    with reading(program, ADDRESS, e131.PORT) as (_, end), _engine() as (link, clock):
        _play(link, universes, show, setup | {"leash": Leash.FREE})
        link.close()
        time.sleep(LEAVING_S)
        cpu_before_s, began_s = time.clock_gettime(clock), time.monotonic()
        time.sleep(seconds)
        cpu_s, passed_s = time.clock_gettime(clock) - cpu_before_s, time.monotonic() - began_s
        again = attach(_name(), client_name("a bench"), control=True)
        again.send(TakeControl())
        again.send(Stop())
        skipped = wait_for(again, Ended, PATIENCE_S).counts.skipped
        again.close()
        end()
        return cpu_s / ((passed_s * show.rate_hz - skipped) * universes) * 1e6


def _play(link: EngineLink, universes: int, show: Show, setup: Mapping[str, Any]) -> None:
    """Begin a run, and let it settle."""
    display = display_from_ranges(tuple(range(1, universes + 1)), Protocol.E131, (ADDRESS,))
    link.send(Play(setup=Setup(display=display, **setup), show=show))
    wait_for(link, Plan, PATIENCE_S)
    latest(link, SETTLING_S)


def latest(link: EngineLink, seconds: float) -> Status:
    """Read what is told for so many seconds, and return the first status of a run from then on."""
    limit_s = time.monotonic() + seconds
    while True:
        for report in reports(link, PATIENCE_S):
            if isinstance(report, Status) and report.counts.frames and time.monotonic() >= limit_s:
                return report


@contextmanager
def _engine() -> Iterator[tuple[EngineLink, int]]:
    link = start(_name(), client_name("a bench"))
    process = engine_below(os.getpid())
    pin(process.pid, SENDERS_CORE)
    try:
        yield link, cpu_clock(process.pid)
    finally:
        link.close()
        process.terminate()
        process.wait(PATIENCE_S)


def _name() -> str:
    return f"bench-{os.getpid()}"


def engine_below(process: int) -> psutil.Process:
    """Return the engine that a process has started, or one that it started."""
    for each in psutil.Process(process).children(recursive=True):
        if each.status() != psutil.STATUS_ZOMBIE and ENGINE in each.cmdline():
            return each
    raise LookupError(f"process {process} has no engine")


def cpu_clock(process: int) -> int:
    """Return the clock of a process's own processor time, finer than getrusage: clock_getcpuclockid(3)."""
    clock = ctypes.c_int()
    number = ctypes.CDLL(None).clock_getcpuclockid(process, ctypes.byref(clock))
    if number:
        raise OSError(number, os.strerror(number))
    return clock.value
