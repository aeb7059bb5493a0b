"""Which supplies and fuses were found to hold the light down: each is told once."""

from collections.abc import Iterator

from streamer.engine.messages import Status
from streamer.soak.findings import Finding
from streamer.soak.records import EventKind, Severity

TOLD_MOST = 64


class Dimmed:
    """Those that were told."""

    def __init__(self) -> None:
        self._told: set[str] = set()

    def take(self, status: Status) -> Iterator[Finding]:
        """Yield those that an engine has not told of before."""
        for dimmed in status.dimmed:
            if dimmed.name not in self._told and len(self._told) < TOLD_MOST:
                self._told.add(dimmed.name)
                words = f"held down, as planned, to keep its current under the limit: {dimmed.words}"
                yield Finding(EventKind.NOTE, dimmed.name, words, Severity.NOTICE)
