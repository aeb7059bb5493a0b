"""What an ANSI E1.31-2018 receiver makes of packets: order, loss, priority, merging, synchronization.

It has no clock and no socket: every call says what time it is, in seconds on any steady clock.

Several sources (6.2.3): the live sources of the highest priority count; if there are several, each slot
takes the highest of their values. That is for up to `SOURCES_MAX` sources of a universe, whichever came
first; one more is refused unless its priority is above another's, which then gives way. What the
standard leaves open is left to the caller: what to show when nobody sends (`levels` returns None).
Priorities for each slot (START code 0xDD) are not read.
"""

from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

from streamer.wire.e131 import START_CODE_LEVELS, DataPacket, Options, SyncPacket
from streamer.wire.sequence import e131_accepts
from streamer.wire.sources import Counters, Source, Universe
from streamer.wire.synchronization import Synchronization

UNIVERSES_MAX = 1024
"""Known at one time: it bounds what a hostile network can make a receiver remember."""


class Verdict(StrEnum):
    """What became of a packet."""

    ACCEPTED = "accepted"
    """Its levels are the source's newest; they show if no live source has a higher priority."""
    HELD = "held"
    """Its levels wait for synchronization."""
    NOT_LEVELS = "not levels"
    """Its START code is not 0."""
    PREVIEW = "preview"
    """Its levels must not drive live output."""
    TERMINATED = "terminated"
    """Its source has stopped; its slots are ignored."""
    OUT_OF_ORDER = "out of order"
    """Its sequence number is old."""
    REFUSED = "refused"
    """There is no room for another source or universe, or it comes from the wrong sender."""


@dataclass(frozen=True, slots=True)
class Lost:
    """A source that has been silent for 2.5 s on one universe."""

    universe: int
    cid: UUID
    source_name: str


class Reception:
    """The state of one receiver over all universes. Call `expire` several times a second."""

    def __init__(self) -> None:
        self._universes: dict[int, Universe] = {}
        self._synchronization = Synchronization()
        self._lost: list[Lost] = []

    def receive(self, packet: DataPacket, now: float) -> Verdict:
        """Take a data packet and say what became of it."""
        universe = self._universes.get(packet.universe, Universe())
        source = universe.sources.get(packet.cid)
        if source and source.is_lost(now):
            self._forget(universe, source)
            source = None
        if source and not e131_accepts(source.packet.sequence, packet.sequence):
            universe.note_out_of_order(packet.cid)
            return Verdict.OUT_OF_ORDER
        if Options.STREAM_TERMINATED in packet.options:
            if source:
                universe.note(packet, now)
                del universe.sources[packet.cid]
            return Verdict.TERMINATED
        return self._act(packet, universe, now)

    def synchronize(self, packet: SyncPacket, now: float) -> Verdict:
        """Take a synchronization packet: the levels held for its address are acted on."""
        if not self._synchronization.accept(packet, now):
            return Verdict.OUT_OF_ORDER
        for universe in self._universes.values():
            for source in universe.sources.values():
                if source.held and source.held.sync_address == packet.sync_address:
                    source.show(source.held)
        return Verdict.ACCEPTED

    def expire(self, now: float) -> list[Lost]:
        """Forget the sources that are lost; return those lost since the last call (6.7.1)."""
        for universe in self._universes.values():
            for source in [each for each in universe.sources.values() if each.is_lost(now)]:
                self._forget(universe, source)
        lost, self._lost = self._lost, []
        return lost

    def levels(self, universe: int) -> bytes | None:
        """Return what the live sources make together, or None if there are none."""
        return self._universes.get(universe, Universe()).levels()

    def sources(self, universe: int) -> tuple[Source, ...]:
        """Return every source that is neither lost nor terminated, those that send previews too."""
        return tuple(self._universes.get(universe, Universe()).sources.values())

    def counters(self, universe: int) -> Counters:
        """Return the counters of a universe over all its sources, present and past."""
        return self._universes.get(universe, Universe()).counters

    def universes(self) -> tuple[int, ...]:
        """Return the numbers of the universes that have a source, ascending."""
        return tuple(sorted(number for number, universe in self._universes.items() if universe.sources))

    def _act(self, packet: DataPacket, universe: Universe, now: float) -> Verdict:
        if not self._make_room(packet.universe):
            return Verdict.REFUSED
        self._universes[packet.universe] = universe
        source = universe.note(packet, now)
        if not source:
            return Verdict.REFUSED
        if packet.start_code != START_CODE_LEVELS:
            return Verdict.NOT_LEVELS
        if Options.PREVIEW_DATA in packet.options:
            source.levels = source.held = None
            return Verdict.PREVIEW
        if self._synchronization.holds(packet.sync_address, packet.options, now):
            source.held = packet
            return Verdict.HELD
        source.show(packet)
        return Verdict.ACCEPTED

    def _forget(self, universe: Universe, source: Source) -> None:
        packet = source.packet
        del universe.sources[packet.cid]
        self._lost.append(Lost(packet.universe, packet.cid, packet.source_name))

    def _make_room(self, number: int) -> bool:
        """Say whether a universe may be known, forgetting one that has no sources if that makes room."""
        if number in self._universes or len(self._universes) < UNIVERSES_MAX:
            return True
        empty = next((each for each, universe in self._universes.items() if not universe.sources), None)
        if empty is None:
            return False
        del self._universes[empty]
        return True
