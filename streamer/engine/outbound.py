"""The way out of a run: frames in pieces, and after the last piece what tells receivers to show them.

ANSI E1.31-2018 clause 6.3 and chapter 11: receivers that have heard a synchronization packet hold levels
until the next one. It goes to the group of its universe and nowhere else (clause 6.3.3.1), after a small gap
(clause 11.2.2). Art-Net 4: one ArtSync after a frame's ArtDmx, as a directed broadcast, never to a single
node. Keep-alives and last packets are held as well, so each is followed by one. Time is an argument.
"""

from collections.abc import Collection, Iterable, Sequence
from operator import is_not

import numpy as np

from streamer.display.model import Protocol
from streamer.display.slots import Indices
from streamer.engine.batch import Batch
from streamer.engine.outlet import Outlet
from streamer.engine.pacing import NEVER_S, Due, Pacing, Wait
from streamer.engine.signals import Signal
from streamer.engine.source import Source
from streamer.net.prepared import Piece
from streamer.net.sender import Sender
from streamer.wire import artnet, e131
from streamer.wire.sequence import e131_next


class Outbound:
    """Sends by an outlet, a frame's packets over `spread` of the frame."""

    def __init__(self, outlet: Outlet, source: Source, spread: float | None, sync_gap_s: float) -> None:
        self._outlet = outlet
        self._source = source
        self._pacing = Pacing(spread)
        self._sync_gap_s = sync_gap_s
        self._held: set[Signal] = set()
        self._release_s = NEVER_S
        self._dues: list[Due] = []
        self._pieces: list[Piece] = []
        """What was prepared last, and as it was given to the sender."""
        self.synchronizations = 0
        """How many synchronization packets have gone out."""

    @property
    def sender(self) -> Sender:
        """What sends them."""
        return self._outlet.data

    @property
    def is_at_once(self) -> bool:
        """Whether small frames go whole, in one piece."""
        return self._pacing.is_at_once

    @property
    def is_waiting(self) -> bool:
        """Whether anything has still to go."""
        return self._pacing.is_waiting or bool(self._held)

    @property
    def last_s(self) -> float:
        """The moment of the last piece that waits."""
        return self._pacing.last_s

    @property
    def wake_s(self) -> float:
        """The moment at which something is due next."""
        return self._pacing.wake_s if self._pacing.is_waiting else self._release_s

    def put(self, due: Sequence[Due], now_s: float, period_s: float, most_s: float = NEVER_S) -> None:
        """Send packets with their next numbers, in pieces from `now_s` on: see `Pacing`."""
        if self._pacing.is_waiting and self._holds_any_of(due):
            self._send(self._pacing.take(NEVER_S), NEVER_S)
        for batch, rows in due:
            if len(rows):
                batch.number(rows)
        self._pacing.put(due, now_s, period_s, most_s)
        self.tick(now_s)

    def cut(self, due: Sequence[Due], period_s: float) -> list[tuple[float, Due]]:
        """Return packets in pieces, as `put` does, and how long after the first each is to go."""
        return self._pacing.cut(due, period_s)

    def take_over(self, pieces: Iterable[tuple[float, Due]]) -> None:
        """Let pieces with numbers of their own wait, each for its moment."""
        self._pacing.take_over(pieces)

    def _holds_any_of(self, due: Sequence[Due]) -> bool:
        """Whether some of these packets still wait with a number of their own, which would be lost."""
        return any(
            batch is other and np.isin(rows, others, assume_unique=True).any()
            for batch, rows in due
            for _, (other, others) in self._pacing.waiting
        )

    def tick(self, now_s: float) -> None:
        """Send what is due at `now_s`."""
        self._send(self._pacing.take(now_s), now_s + self._sync_gap_s)
        if now_s >= self._release_s and not self._pacing.is_waiting:
            self._release()

    def depart(self, wait: Wait, until_s: float) -> bool:
        """Send what waits, each at its moment, for as long as `wait` lets it, and before `until_s`.

        Return whether all of it went.
        """
        waiting, sender = self._pacing.waiting, self._outlet.data
        # Asleep between pieces, caches are cold: what can be done now would take longer then.
        for depart in sender.prepare(self._prepared_pieces()):
            moment_s, (batch, rows) = waiting[0]
            if moment_s >= until_s or (now_s := wait(moment_s)) is None:
                return False
            del waiting[0]
            depart()
            if batch.is_held:
                self._hold(batch, rows, now_s + self._sync_gap_s)
        if self._held and self._release_s < until_s and wait(self._release_s) is not None:
            self._release()
        return not self._held

    def _prepared_pieces(self) -> list[Piece]:
        """Return what waits as it is prepared: the same list for the same pieces, which is quick then."""
        dues = [due for _, due in self._pacing.waiting]
        if len(dues) != len(self._dues) or any(map(is_not, dues, self._dues)):
            self._dues = dues
            self._pieces = [(batch.packets, rows, batch.destinations) for batch, rows in dues]
        return self._pieces

    def flush(self) -> None:
        """Send all that waits, before its packets are written anew; it is no longer held then."""
        self._send(self._pacing.take(NEVER_S), NEVER_S)
        self._release()

    def drop(self, batches: Collection[Batch]) -> None:
        """Forget the pieces of these that wait: their streams go dark at once, by packets of their own."""
        for batch, rows in self._pacing.drop(batches):
            batch.take_back(rows)

    def _send(self, pieces: Iterable[Due], release_s: float) -> None:
        for batch, rows in pieces:
            self._outlet.data.send(batch.packets, rows, batch.destinations)
            self._hold(batch, rows, release_s)

    def _hold(self, batch: Batch, rows: Indices, release_s: float) -> None:
        signals = batch.signals(rows)
        if signals:
            self._held |= signals
            self._release_s = release_s

    def _release(self) -> None:
        e131_addresses = {each.sync_address for each in self._held if each.protocol is Protocol.E131}
        for sync_address in sorted(e131_addresses):
            self._synchronize(sync_address)
        broadcasts = {self._outlet.broadcasts[each.address] for each in self._held if each.address}
        for broadcast in broadcasts:
            broadcast.sender.send_one(artnet.ArtSync().encode(), (broadcast.address, artnet.PORT))
            self.synchronizations += 1
        self._held.clear()
        self._release_s = NEVER_S

    def _synchronize(self, sync_address: int) -> None:
        sequence = e131_next(self._source.sync_sequences.get(sync_address, 0))
        self._source.sync_sequences[sync_address] = sequence
        packet = e131.SyncPacket(self._source.cid, sync_address, sequence).encode()
        self.synchronizations += self._outlet.send_to_groups(packet, sync_address)
