"""An invented night at the boathouse, by clocks that go as they are told."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from streamer.soak.journal import journal_path
from streamer.soak.records import (
    ControllerFacts,
    ControllerSample,
    Event,
    EventKind,
    HostSample,
    Lateness,
    Moment,
    RunFacts,
    Sample,
    Severity,
)

TEN_IN_THE_EVENING = 1_764_540_000.0
"""2025-11-30 22:00 UTC."""
NODES = ("boathouse", "jetty")


def facts(universes: int = 4, controllers: tuple[str, ...] = NODES, asked_s: float = 8 * 3_600) -> RunFacts:
    """Return what an invented run is."""
    return RunFacts(
        display_file="display.toml",
        display="Boathouse",
        fingerprint="0" * 64,
        programme="dark:1m,full:4m",
        asked_s=asked_s,
        version="0.1.0",
        host="shed",
        interface="eth0",
        universes=tuple(f"universe {number}" for number in range(1, universes + 1)),
        controllers=tuple(
            ControllerFacts(name, f"10.7.0.{number}", "artnet", 2) for number, name in enumerate(controllers)
        ),
        rate_hz=40,
        level_percent=30,
        supplies=("boathouse", "jetty"),
        supply_limits_a={"boathouse": 16.0, "jetty": 8.0},
        steps=("all dark", "full level"),
    )


def sample(at: Moment, controllers: tuple[str, ...] = NODES, seed: float = 0.123) -> Sample:
    """Return five seconds in which all was well; `seed`, below 1, makes its digits others."""
    return Sample(
        at=at,
        frames_sent=200,
        packets=20_000,
        lateness=Lateness(0.1 + seed / 100, 0.2 + seed / 10, 0.6 + seed / 7, 1.3 + seed),
        amps={"boathouse": 11.5 + seed, "jetty": 3.25 + seed / 3},
        amps_total=14.75 + seed,
        has_carrier=True,
        address="10.7.0.100",
        controllers=tuple(
            ControllerSample(name, 2, 2, 5, 5, 0.25 + (seed * number) % 1)
            for number, name in enumerate(controllers)
        ),
        host=HostSample(0.4 + seed, 48 + seed, 90_000_000 + int(seed * 1_000_000)),
        step=int(at.run_s // 60) % 2,
    )


def event(kind: EventKind, at: Moment, subject: str = "", **more: Any) -> Event:
    """Return an event that is open, unless it says when it ended."""
    return Event(
        **{
            "kind": kind,
            "subject": subject,
            "words": "",
            "severity": Severity.FAILURE,
            "began_at": at,
            **more,
        }
    )


@dataclass
class Clocks:
    """A wall clock and one that is never set, which has gone for 1,000 s when the run begins."""

    unix_s: float = TEN_IN_THE_EVENING
    monotonic_s: float = 1_000

    def go(self, seconds: float) -> None:
        """Let time pass."""
        self.unix_s += seconds
        self.monotonic_s += seconds

    @property
    def now(self) -> tuple[float, float]:
        """What they say."""
        return self.unix_s, self.monotonic_s


@pytest.fixture(name="clocks")
def _clocks() -> Clocks:
    return Clocks()


@pytest.fixture(name="path")
def _path(tmp_path: Path) -> Path:
    return journal_path(tmp_path / "display.toml")
