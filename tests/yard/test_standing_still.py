"""A yard whose process stood still for some seconds, on a busy machine or held. The clock is a number."""

import os
from contextlib import closing
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace

import pytest

from streamer.yard import loop
from streamer.yard.client import attach
from streamer.yard.loop import OUT_S, run
from streamer.yard.service import GRACE_S, Service
from streamer.yard.yard import Yard
from tests.yard.bench import jetty, port

OWN = f"127.{83 + os.getpid() % 100}.{os.getpid() // 100 % 250}.9"
DISPLAY = jetty([port(1, 3, 1)], address=OWN)
TURN_S = 0.125
HELD_S = 4.5


@dataclass
class Clock:
    """Goes on by a turn whenever it is read."""

    now_s: float = 0.0

    def monotonic(self) -> float:
        """Read it."""
        self.now_s += TURN_S
        return self.now_s


@pytest.fixture(name="clock")
def _clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr(loop, "time", clock)
    monkeypatch.setattr(loop, "select", SimpleNamespace(select=lambda *_: None))
    return clock


def test_a_client_that_came_before_is_known_though_nothing_was_told_meanwhile(own_folders: Path):
    """Held until the grace is over, a yard finds its client waiting, and goes on; without it, it ends."""
    assert own_folders.exists()
    with closing(Service(Yard(DISPLAY), "shed", "a screen", 0.0)) as service, closing(attach("shed")) as link:
        service.serve(GRACE_S + 1, has_news=False)
        assert not service.is_done(GRACE_S + 1)
        link.close()
        service.serve(GRACE_S + 2, has_news=False)
        assert service.is_done(2 * GRACE_S + 2)


def test_lines_of_the_seconds_that_have_gone_are_not_written_in_a_burst(clock: Clock):
    """One at once, and then again one a second."""
    written_s: list[float] = []

    def out(_yard: Yard, passed_s: float, _now: float) -> None:
        written_s.append(passed_s)
        if len(written_s) == 3:
            clock.now_s += HELD_S

    run(DISPLAY, faults={}, link_name=None, seconds=12, out=out)
    spans_s = [after - before for before, after in pairwise(written_s)]
    assert len(spans_s) >= 5
    assert max(spans_s) < HELD_S + 2 * TURN_S
    assert min(spans_s) >= OUT_S / 2
    assert spans_s[-3:] == [OUT_S] * 3
