"""How this machine does: its load, its hottest sensor, and the memory of our processes."""

import contextlib
from collections.abc import Callable
from dataclasses import dataclass, replace

import psutil

from streamer.soak.findings import Quiet
from streamer.soak.records import HostSample, Sample


@dataclass(frozen=True, slots=True)
class Readings:
    """Where the numbers come from; tests give their own."""

    load: Callable[[], float | None]
    temperature_c: Callable[[], float | None]
    memory_octets: Callable[[], int]


class HostWatch(Quiet):
    """Reads the machine once for each sample."""

    name = "this machine"

    def __init__(self, readings: Readings | None = None) -> None:
        self._readings = readings or this_host()

    def add_to(self, sample: Sample) -> Sample:
        """Return the sample with how the machine does."""
        readings = self._readings
        host = HostSample(readings.load(), readings.temperature_c(), readings.memory_octets())
        return replace(sample, host=host)


def this_host() -> Readings:
    """Return the readings of the machine that this runs on."""
    return Readings(_load, _temperature_c, _memory_octets)


def _load() -> float | None:
    try:
        return float(psutil.getloadavg()[0])
    except OSError:
        return None


def _temperature_c() -> float | None:
    """Return the hottest sensor's; None where the system gives none, as on most virtual machines."""
    if not hasattr(psutil, "sensors_temperatures"):
        return None
    sensors = psutil.sensors_temperatures()
    return max((float(each.current) for group in sensors.values() for each in group), default=None)


def _memory_octets() -> int:
    """Return the resident memory of this process and of those it started."""
    own, octets = psutil.Process(), 0
    for process in (own, *own.children(recursive=True)):
        # It may have ended since it was listed.
        with contextlib.suppress(psutil.NoSuchProcess):
            octets += int(process.memory_info().rss)
    return octets
