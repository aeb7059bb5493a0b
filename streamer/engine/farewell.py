"""How streams end, whatever the reason: dark, then terminated as the standard asks. Time is an argument.

The dark frame goes out as often as ANSI E1.31-2018 clause 6.6.2 asks of a change before silence (once
and three times more), then three packets with Stream_Terminated (clause 6.2.6). They are spread out, so
that one burst lost on the way does not lose them all and the rate stays under 44 a second (6.6.1).
"""

from collections.abc import Iterable

from streamer.display.model import Protocol
from streamer.display.patch import StreamKey
from streamer.display.slots import Indices
from streamer.engine.batch import Batch
from streamer.engine.cadence import PACKETS_OF_A_CHANGE
from streamer.engine.outbound import Outbound
from streamer.engine.pacing import NEVER_S, SPREAD_S
from streamer.engine.source import Source
from streamer.wire.e131 import TERMINATED_PACKETS

GAP_S = 0.025


class Farewell:
    """The last packets of some rows of a batch, which nobody else sends any more."""

    def __init__(self, batch: Batch, rows: Indices, now_s: float) -> None:
        self._batch = batch
        self._rows = rows
        self._dark_left = PACKETS_OF_A_CHANGE
        self._terminated_left = TERMINATED_PACKETS if batch.protocol is Protocol.E131 else 0
        self.wake_s = now_s
        batch.darken()

    @property
    def is_over(self) -> bool:
        """Whether every last packet has been sent."""
        return not len(self._rows) or not (self._dark_left or self._terminated_left)

    def tick(self, outbound: Outbound, now_s: float) -> None:
        """Send what is due."""
        if self.is_over or now_s < self.wake_s:
            return
        if self._dark_left:
            self._dark_left -= 1
        else:
            self._batch.terminate()
            self._terminated_left -= 1
        outbound.put([(self._batch, self._rows)], now_s, GAP_S, SPREAD_S)
        self.wake_s = NEVER_S if self.is_over else now_s + GAP_S

    def recall(self, keys: frozenset[StreamKey]) -> None:
        """Leave out streams that are wanted again; none of their packets may be waiting."""
        self._rows = self._rows[[self._batch.keys[row] not in keys for row in self._rows.tolist()]]

    def sequences(self) -> dict[StreamKey, int]:
        """Return the last sequence number of each of its streams."""
        return self._batch.sequences(self._rows)


class Farewells:
    """All that a run still says, by its way out; their last numbers are kept for whoever goes on."""

    def __init__(self, source: Source, outbound: Outbound) -> None:
        self._source = source
        self._outbound = outbound
        self._said: list[Farewell] = []

    @property
    def are_over(self) -> bool:
        """Whether the last packet has been sent."""
        return not self._said

    @property
    def wake_s(self) -> float:
        """The moment at which something is due next, or waits to go: they are over when all has gone."""
        moments = [farewell.wake_s for farewell in self._said]
        return min([*moments, self._outbound.wake_s]) if moments else NEVER_S

    def begin(self, farewells: Iterable[Farewell]) -> None:
        """Say these from now on."""
        self._said += farewells

    def tick(self, now_s: float) -> None:
        """Send what is due."""
        for farewell in self._said:
            farewell.tick(self._outbound, now_s)
        self._note()
        if not self._outbound.is_waiting:
            self._said = [farewell for farewell in self._said if not farewell.is_over]

    def recall(self, keys: frozenset[StreamKey]) -> None:
        """Say no farewell to these streams: they are wanted again."""
        if self._said:
            self._outbound.flush()
            self._note()
        for farewell in self._said:
            farewell.recall(keys)

    def _note(self) -> None:
        for farewell in self._said:
            self._source.sequences |= farewell.sequences()
