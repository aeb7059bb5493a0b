"""What a long night costs: no memory, though nothing collects garbage."""

import gc
import tracemalloc
from collections.abc import Callable
from functools import partial

import pytest

from streamer.engine.engine import Run
from streamer.engine.messages import Setup
from streamer.engine.outlet import Outlet
from streamer.engine.source import Source
from streamer.net.complaints import Accounts
from tests.engine.bench import CID, play

TUPLES_KEPT_OCTETS = 2000 * (48 + 64)
"""CPython keeps up to 2,000 tuples of each length for use again: those of one item have 48 octets, those of
three, as a frame made ahead has for each batch, 64. Nothing else may grow."""
SHOWS = ("probe", "walk", "tint", "level")


class CountingSender(Accounts):
    """Counts what it is given, and keeps nothing."""

    def send(self, packets: object, rows: object, _destinations: object) -> None:
        """Count packets."""
        for row in rows.tolist():
            self._accepted(len(packets[row]))

    def prepare(self, packets: object, rows: object, destinations: object) -> Callable[[], None]:
        """Return what sends these."""
        return partial(self.send, packets, rows, destinations)

    def send_one(self, packet: bytes, _destination: object) -> None:
        """Count a packet."""
        self._accepted(len(packet))

    def close(self) -> None:
        """Release nothing."""


def open_counting(_setup: Setup) -> Outlet:
    """Open an outlet to nowhere."""
    return Outlet(CountingSender(), (CountingSender(),), "nowhere")


def pass_minutes(run: Run, minute: int, minutes: int) -> int:
    """Play so many minutes, another pattern each; return the octets that are allocated then."""
    for each in range(minute, minute + minutes):
        run.change(play(SHOWS[each % len(SHOWS)], rate_hz=4).show, each * 60.0)
        now_s = each * 60.0
        while now_s < (each + 1) * 60.0:
            run.tick(now_s)
            run.counts()
            now_s = max(now_s, run.wake_s)
    return tracemalloc.get_traced_memory()[0]


@pytest.mark.rig
def test_memory_does_not_grow_over_a_simulated_hour():
    """Frames, changes, neighbours that come and leave; without a garbage collector, as in the process."""
    run = Run(play(rate_hz=4), Source(CID), open_counting, 0.0)
    run.begin()
    gc.collect()
    gc.disable()
    tracemalloc.start()
    try:
        early = pass_minutes(run, 0, 8)
        late = pass_minutes(run, 8, 52)
    finally:
        tracemalloc.stop()
        gc.enable()
    assert run.counts().frames > 14_000
    assert late - early < TUPLES_KEPT_OCTETS
