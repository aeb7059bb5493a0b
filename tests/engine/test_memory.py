"""What a long night costs: no memory, though nothing collects garbage."""

import gc
import tracemalloc
from collections.abc import Sequence
from functools import partial
from typing import NamedTuple

import pytest

from patterns.plain import Bytes
from streamer.display.slots import Indices
from streamer.engine.engine import Run
from streamer.engine.messages import Setup
from streamer.engine.outlet import Outlet
from streamer.engine.source import Source
from streamer.net.complaints import Accounts
from streamer.net.destinations import Destination
from streamer.net.prepared import Departure, Piece
from streamer.net.sender import Packet
from tests.engine.bench import CID, play

GROWTH_OCTETS = 24_000
"""For what is made once and kept: pictures and packets of each pattern in turn."""
SHOWS = ("probe", "walk", "tint", "level")


class CountingSender(Accounts):
    """Counts what it is given, and keeps nothing."""

    def send(
        self,
        packets: Bytes,
        rows: Indices,
        destinations: Sequence[Destination],  # noqa: ARG002  as a sender takes them
    ) -> None:
        """Count packets."""
        for row in rows.tolist():
            self.accepted(len(packets[row]))

    def prepare(self, pieces: Sequence[Piece]) -> list[Departure]:
        """Return what sends each of these."""
        return [partial(self.send, *piece) for piece in pieces]

    def send_one(self, packet: Packet, destination: Destination) -> None:  # noqa: ARG002  as a sender takes it
        """Count a packet."""
        self.accepted(len(packet))

    def close(self) -> None:
        """Release nothing."""


def open_counting(_setup: Setup) -> Outlet:
    """Open an outlet to nowhere."""
    return Outlet(CountingSender(), (CountingSender(),), "nowhere")


class Memory(NamedTuple):
    """What a run holds on to."""

    octets: int
    lost_objects: int
    """What nobody holds on to any more, but for each other: in the process, which never collects, a leak."""


def memory() -> Memory:
    """Return what is held now.

    CPython keeps up to 2,000 tuples of each length below 20 for use again, 4.6 MB in all; looking for lost
    objects gives those back (gcmodule.c, clear_freelists), so that here they do not count.
    """
    lost_objects = gc.collect()
    return Memory(tracemalloc.get_traced_memory()[0], lost_objects)


def play_until(run: Run, now_s: float, until_s: float) -> None:
    """Play as the process does: now and then a tick, and meanwhile what is ready departs."""

    def wait(moment_s: float) -> float | None:
        nonlocal now_s
        now_s = max(now_s, moment_s)
        return now_s if now_s < until_s else None

    while now_s < until_s:
        run.tick(now_s)
        run.counts()
        run.depart(wait, run.attention_s)
        wait(run.wake_s)


def pass_minutes(run: Run, minute: int, minutes: int) -> Memory:
    """Play so many minutes, another pattern each; return what is held then."""
    for each in range(minute, minute + minutes):
        run.change(play(SHOWS[each % len(SHOWS)], rate_hz=4).show, each * 60.0)
        play_until(run, each * 60.0, (each + 1) * 60.0)
    return memory()


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
    assert late.lost_objects == 0
    assert late.octets - early.octets < GROWTH_OCTETS
