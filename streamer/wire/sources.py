"""The sources of one universe as a receiver knows them: what each sent, and what they make together.

Which packets a receiver acts on is decided in `reception` and `artnet_reception`.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import zip_longest
from uuid import UUID

from streamer.wire.e131 import DATA_LOSS_TIMEOUT_S, DataPacket
from streamer.wire.sequence import e131_lost_between

SOURCES_MAX = 8
"""Of one universe: it bounds what a hostile network can make a receiver remember."""


@dataclass(slots=True)
class Counters:
    """What has come from one source, or on one universe."""

    received: int = 0
    """Packets in order."""
    lost: int = 0
    """Packets missing between them, by their sequence numbers."""
    out_of_order: int = 0
    """Packets discarded by their sequence numbers."""


@dataclass(slots=True)
class Source:
    """One E1.31 source of one universe, told from the others by its CID. Only `reception` changes it."""

    packet: DataPacket
    """The newest in order."""
    heard_s: float
    """When it came."""
    levels: bytes | None = None
    """The newest live levels; None before the first, and while the source sends previews."""
    held: DataPacket | None = None
    """Levels that wait for synchronization."""
    counters: Counters = field(default_factory=Counters)

    def is_lost(self, now: float) -> bool:
        """Say whether it has been silent for 2.5 s (6.7.1)."""
        return now - self.heard_s >= DATA_LOSS_TIMEOUT_S

    def show(self, packet: DataPacket) -> None:
        """Act on a packet's levels; those that were held are older and dropped (6.2.4)."""
        self.levels = packet.slots
        self.held = None


@dataclass(slots=True)
class Universe:
    """The sources of one universe, and counters that outlive them."""

    sources: dict[UUID, Source] = field(default_factory=dict)
    counters: Counters = field(default_factory=Counters)

    def note(self, packet: DataPacket, now: float) -> Source | None:
        """Count a packet in order and remember it as its source's newest; None if there is no room."""
        source = self.sources.get(packet.cid)
        if not source:
            if not self._make_room(packet.priority):
                return None
            source = self.sources[packet.cid] = Source(packet, now)
        lost = e131_lost_between(source.packet.sequence, packet.sequence)
        source.packet, source.heard_s = packet, now
        for counters in (source.counters, self.counters):
            counters.received += 1
            counters.lost += lost
        return source

    def note_out_of_order(self, cid: UUID) -> None:
        """Count a packet that was discarded."""
        for counters in (self.sources[cid].counters, self.counters):
            counters.out_of_order += 1

    def levels(self) -> bytes | None:
        """Merge the levels of the live sources of the highest priority; None if there are none (6.2.3)."""
        live = [source for source in self.sources.values() if source.levels is not None]
        highest = max((source.packet.priority for source in live), default=None)
        return merge_highest([source.levels or b"" for source in live if source.packet.priority == highest])

    def _make_room(self, priority: int) -> bool:
        if len(self.sources) < SOURCES_MAX:
            return True
        lowest = min(self.sources.values(), key=lambda source: source.packet.priority).packet
        if lowest.priority < priority:
            del self.sources[lowest.cid]
        return lowest.priority < priority


def merge_highest(levels: Iterable[bytes]) -> bytes | None:
    """Return the highest value of each slot, as long as the longest; None of none."""
    several = list(levels)
    if len(several) > 1:
        return bytes(map(max, zip_longest(*several, fillvalue=0)))
    return several[0] if several else None
