"""What a long night costs: no memory, though nothing collects garbage."""

import errno
import gc
import itertools
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
from streamer.net.batched import BatchedSender
from streamer.net.complaints import Accounts
from streamer.net.destinations import Destination
from streamer.net.kernel import Kernel
from streamer.net.linux import IS_LINUX
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


class Hour:
    """An outlet to nowhere, and what time it is there."""

    def __init__(self, *, is_batched: bool) -> None:
        self.now_s = 0.0
        self._is_batched = is_batched
        self._calls = itertools.count()

    def open(self, _setup: Setup) -> Outlet:
        """Open the outlet."""
        kernel = Kernel(self._sendmsg, self._sendmmsg)
        data = BatchedSender(None, kernel=kernel, clock=lambda: self.now_s) if self._is_batched else None
        return Outlet(data or CountingSender(), (CountingSender(),), "nowhere")

    def _sendmsg(self, _sock: object, buffers: list[bytes], *_rest: object) -> int:
        self._refuse_some()
        return len(buffers[0])

    def _sendmmsg(self, _descriptor: int, _messages: int, count: int) -> int:
        self._refuse_some()
        return count

    def _refuse_some(self) -> None:
        """Refuse as for a controller that is switched off, now and then."""
        if next(self._calls) % 7 == 0:
            raise OSError(errno.EHOSTUNREACH, "refused by the test")


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


def play_until(run: Run, hour: Hour, until_s: float) -> None:
    """Play as the process does: now and then a tick, and meanwhile what is ready departs."""

    def wait(moment_s: float) -> float | None:
        hour.now_s = max(hour.now_s, moment_s)
        return hour.now_s if hour.now_s < until_s else None

    while hour.now_s < until_s:
        run.tick(hour.now_s)
        run.counts()
        run.depart(wait, run.attention_s)
        wait(run.wake_s)


def pass_minutes(run: Run, hour: Hour, minute: int, minutes: int) -> Memory:
    """Play so many minutes, another pattern each; return what is held then."""
    for each in range(minute, minute + minutes):
        run.change(play(SHOWS[each % len(SHOWS)], rate_hz=4).show, each * 60.0)
        play_until(run, hour, (each + 1) * 60.0)
    return memory()


@pytest.mark.rig
@pytest.mark.parametrize(
    "is_batched",
    [False, pytest.param(True, marks=pytest.mark.skipif(not IS_LINUX, reason="the calls are Linux's"))],
)
def test_memory_does_not_grow_over_a_simulated_hour(*, is_batched: bool):
    """Frames, changes, neighbours that come and leave, refusals; no garbage collector, as in the process."""
    hour = Hour(is_batched=is_batched)
    run = Run(play(rate_hz=4), Source(CID), hour.open, 0.0)
    run.begin()
    gc.collect()
    gc.disable()
    tracemalloc.start()
    try:
        early = pass_minutes(run, hour, 0, 8)
        late = pass_minutes(run, hour, 8, 52)
    finally:
        tracemalloc.stop()
        gc.enable()
        run.close()
    assert run.counts().frames > 14_000
    assert late.lost_objects == 0
    assert late.octets - early.octets < GROWTH_OCTETS
