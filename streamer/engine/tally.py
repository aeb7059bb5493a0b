"""How a run's frames have met their moments so far."""

from streamer.engine.clock import Arrival, LatenessCounter
from streamer.engine.messages import Counts
from streamer.engine.outlet import Outlet


class Tally:
    """Counts frames as they arrive."""

    def __init__(self) -> None:
        self.lateness = LatenessCounter()
        self.frames = self.dimmed = 0
        self._late = self._skipped = 0

    def add(self, arrival: Arrival, *, is_dimmed: bool) -> None:
        """Count a frame, and those that were skipped before it."""
        self.lateness.add(arrival.lateness_s)
        self.frames += 1
        self.dimmed += is_dimmed
        self._late += arrival.is_late
        self._skipped += arrival.skipped

    def counts(self, outlet: Outlet, held: int, synchronizations: int) -> Counts:
        """Return these counts with what an outlet has sent and been refused."""
        sent = outlet.data.counters
        return Counts(
            frames=self.frames,
            late=self._late,
            skipped=self._skipped,
            held=held,
            dimmed=self.dimmed,
            packets=sent.packets,
            octets=sent.octets,
            synchronizations=synchronizations,
            errors=outlet.errors(),
        )
