"""What is heard is told once a second, also after the process stood still. The clock is a number."""

from contextlib import closing
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from streamer.hear import process
from streamer.hear.client import attach
from streamer.hear.ears import Ears
from streamer.hear.process import LEAST_WINDOW_S, _seconds
from streamer.hear.service import GRACE_S, Service
from streamer.hear.table import Table

TURN_S = 0.1
HELD_AT_S, HELD_S = 2.5, 5.3


@dataclass
class Held:
    """Stands for the clock, the ears and the table of a process that is held once, for some seconds."""

    now_s: float = 0.0
    closed_s: list[float] = field(default_factory=list)

    def wait(self, _others: object) -> None:
        """Let a turn pass."""
        is_held = self.now_s < HELD_AT_S <= self.now_s + TURN_S
        self.now_s += HELD_S if is_held else TURN_S

    def poll(self) -> None:
        """Nothing has come."""

    def join(self, _now: float) -> None:
        """Nothing is joined."""

    def heard(self, _now: float) -> str:
        """Say that it was asked."""
        return "heard"

    def close_window(self, now: float) -> None:
        """Keep when rates were worked out."""
        self.closed_s.append(now)


def test_after_standing_still_it_is_told_at_once_and_no_rate_is_of_a_moment(monkeypatch: pytest.MonkeyPatch):
    """A report for each second that has gone would be a burst, with rates of two hundredths of one."""
    held = Held()
    monkeypatch.setattr(process, "time", SimpleNamespace(monotonic=lambda: held.now_s))
    turns = _seconds(cast("Any", held), cast("Any", held), None)
    told_s = [now for now, heard in (next(turns) for _ in range(100)) if heard]
    assert told_s == held.closed_s
    spans_s = [after - before for before, after in pairwise(told_s)]
    assert max(spans_s) < HELD_S + 1
    assert min(spans_s) > LEAST_WINDOW_S - TURN_S / 2
    assert spans_s[-3:] == pytest.approx([1.0] * 3, abs=TURN_S / 2)


def test_a_client_that_came_before_is_known_though_nothing_was_told_meanwhile(own_folders: Path):
    """Held until the grace is over, a listener finds its client waiting, and goes on; without it, it ends."""
    assert own_folders.exists()
    ears = Ears(Table({}, 0.0), None)
    with closing(Service(ears, "listener", "a test", 0.0)) as service, closing(attach("listener")) as link:
        service.serve(GRACE_S + 1)
        service.tell(ears.heard(GRACE_S + 1), GRACE_S + 1)
        assert not service.is_done(GRACE_S + 1)
        link.close()
        service.serve(GRACE_S + 2)
        assert service.is_done(2 * GRACE_S + 2)
