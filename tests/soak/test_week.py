"""A week of a hundred universes by a fake clock: memory stays where it was, and the journal is small."""

import gc
import tempfile
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest

from streamer.display.model import Controller, Protocol
from streamer.soak.findings import Finding
from streamer.soak.journal import Journal
from streamer.soak.night import SAMPLE_S, Deadline, Night
from streamer.soak.programme import usual_programme
from streamer.soak.records import EventKind
from streamer.soak.watches.controllers import ControllerWatch
from streamer.soak.watches.stream import Stream
from tests.soak.conftest import Clocks, facts
from tests.soak.fakes import SETUP, Engine, Listening, Probed, Told

pytestmark = pytest.mark.long

DAY_S = 24 * 3600
WEEK_S = 7 * DAY_S
NIGHT_S = 8 * 3600
NIGHT_OCTETS = 20_000_000
"""What a night at 100 universes may take."""
GROWTH_OCTETS = 3_000_000
"""SQLite keeps up to 2 MB of pages in memory (sqlite.org/pragma.html#pragma_cache_size)."""
FAULT_EACH, FAULT_LENGTH = 240, 4
"""Samples."""
CONTROLLERS = 20


class Forgetful(Listening):
    """Keeps nothing of what it is told."""

    def event(self, event: object) -> None:
        """Forget it."""

    over = event


@pytest.fixture(name="fast")
def _fast() -> Iterator[Path]:
    """Give a folder in memory where there is one: 120,000 commits are not what is asked about the disk."""
    shared = Path("/dev/shm")  # noqa: S108  a folder of our own in it
    with tempfile.TemporaryDirectory(prefix="rw", dir=shared if shared.is_dir() else None) as folder:
        yield Path(folder)


def test_a_week_needs_no_more_memory_than_its_first_day_and_a_night_stays_small(fast: Path, clocks: Clocks):
    """One fault every twenty minutes; a look every five seconds, each with a sample."""
    rig = Week(fast / "display.toml.soak", clocks)
    sizes: dict[float, tuple[int, int]] = {}
    for number in range(1, round(WEEK_S / SAMPLE_S) + 1):
        rig.go(number)
        if number * SAMPLE_S in {NIGHT_S, DAY_S, WEEK_S}:
            sizes[number * SAMPLE_S] = resident(), sum(each.stat().st_size for each in fast.iterdir())
    rig.night.close()
    rig.journal.close()
    print(sizes)  # noqa: T201  told with -s
    assert sizes[NIGHT_S][1] < NIGHT_OCTETS
    assert sizes[WEEK_S][0] - sizes[DAY_S][0] < GROWTH_OCTETS


class Week:
    """A hundred universes on twenty controllers."""

    def __init__(self, path: Path, clocks: Clocks) -> None:
        self.clocks, self.engine, self.watch = clocks, Engine(), Told()
        addresses = [f"10.7.0.{number}" for number in range(1, CONTROLLERS + 1)]
        probes = Probed(addresses, SAMPLE_S), Probed(addresses, SAMPLE_S)
        controllers = ControllerWatch(
            [Controller(name=each, protocol=Protocol.ARTNET, address=each) for each in addresses],
            lambda _: probes[0],
            lambda _: probes[1],
            lambda: True,
            lambda: 0,
        )
        asked_s = 2 * WEEK_S
        told = facts(universes=100, controllers=tuple(addresses), asked_s=asked_s)
        self.journal = Journal(path)
        self.night = Night(
            pen=self.journal.begin(told, *clocks.now),
            stream=Stream(SETUP, lambda: self.engine),
            watches=[self.watch, controllers],
            programme=usual_programme(has_fixtures=True),
            show=lambda standing: standing.look.show(30.0, 40.0),
            deadline=Deadline(asked_s, by_the_wall=False),
            teller=Forgetful(),
        )
        self.night.begin(*clocks.now)

    def go(self, number: int) -> None:
        """Let one sample's time pass."""
        self.clocks.go(SAMPLE_S)
        self.engine.asked.clear()
        self.engine.play(200, **({"ENETUNREACH": 3} if number % FAULT_EACH == 0 else {}))
        down = [Finding(EventKind.LINK_DOWN, "shed0", "it is switched off")]
        self.watch.found = down if number % FAULT_EACH < FAULT_LENGTH else []
        self.night.tick(*self.clocks.now)


def resident() -> int:
    """Return the resident memory of this process, in octets."""
    gc.collect()
    return int(psutil.Process().memory_info().rss)
