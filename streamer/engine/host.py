"""What an engine tells of the process that it runs in: its standing with the scheduler, and what it uses."""

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Host:
    """The process around an engine."""

    scheduling: str
    """In words."""
    cpu_s: Callable[[], float]
    """Processor time used so far, in seconds."""


class CpuMeter:
    """Processor time by the time that has passed, since it was made."""

    def __init__(self, host: Host, now_s: float) -> None:
        self._host = host
        self._began_s, self._began_cpu_s = now_s, host.cpu_s()

    def share(self, now_s: float) -> float:
        """Return how much of one core has been used: 1 is all of it."""
        passed_s = now_s - self._began_s
        return (self._host.cpu_s() - self._began_cpu_s) / passed_s if passed_s > 0 else 0.0
