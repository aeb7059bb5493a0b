"""What an Art-Net 4 node makes of ArtDmx and ArtSync: order, merging of two sources, synchronization.

It has no clock and no socket: every call says what time it is, in seconds on any steady clock.

Two sources of one Port-Address (another IP, or another Physical) are merged, each slot taking the highest
of their values; a third is refused. Art-Net has neither a priority nor an end of stream: a source leaves
the merge when it has been silent for 10 s, and when all have left the last result stays. A controller
that was started again counts from 1: its packets are out of order only while a newer one is fresh.
"""

from dataclasses import dataclass, field

from streamer.wire.artnet import ArtDmx
from streamer.wire.reception import UNIVERSES_MAX, Verdict
from streamer.wire.sequence import artnet_accepts, artnet_lost_between
from streamer.wire.sources import Counters, merge_highest

MERGE_SOURCES_MAX = 2
MERGE_TIMEOUT_S = 10.0
SYNC_TIMEOUT_S = 4.0
"""Without an ArtSync for so long a node goes back to acting on ArtDmx at once."""
ORDER_TIMEOUT_S = 0.5
"""How long an old number is out of order. Art-Net 4 gives no time: this is longer than a network holds a
packet back, and shorter than the 0.8 s of a keep-alive, so that no controller is shut out for long."""

SourceKey = tuple[str, int]
"""The sender's IP address and Physical."""


@dataclass(slots=True)
class ArtSource:
    """One sender of one Port-Address. Only this module changes it."""

    sequence: int
    heard_s: float
    levels: bytes | None = None
    held: bytes | None = None
    """Levels that wait for an ArtSync."""

    def is_newer_than(self, packet: ArtDmx, now: float) -> bool:
        """Say whether what came last was sent after a packet that comes now."""
        return now - self.heard_s < ORDER_TIMEOUT_S and not artnet_accepts(self.sequence, packet.sequence)


@dataclass(slots=True)
class _Port:
    sources: dict[SourceKey, ArtSource] = field(default_factory=dict)
    result: bytes | None = None
    counters: Counters = field(default_factory=Counters)

    @property
    def is_merging(self) -> bool:
        return len(self.sources) > 1

    def note(self, key: SourceKey, packet: ArtDmx, now: float) -> None:
        """Count a packet in order and hold its levels."""
        source = self.sources.setdefault(key, ArtSource(packet.sequence, now))
        self.counters.lost += artnet_lost_between(source.sequence, packet.sequence)
        self.counters.received += 1
        source.sequence, source.heard_s, source.held = packet.sequence, now, packet.slots

    def release(self) -> None:
        """Act on the levels that are held, and merge anew."""
        for source in self.sources.values():
            source.levels, source.held = source.held or source.levels, None
        self.merge()

    def merge(self) -> None:
        levels = [source.levels for source in self.sources.values() if source.levels is not None]
        self.result = merge_highest(levels) or self.result


class ArtNetReception:
    """The state of one node over all Port-Addresses. Call `expire` several times a second."""

    def __init__(self) -> None:
        self._ports: dict[int, _Port] = {}
        self._latest_ip = ""
        self._synchronized_s: float | None = None

    def receive(self, packet: ArtDmx, ip: str, now: float) -> Verdict:
        """Take an ArtDmx that came from `ip` and say what became of it."""
        port = self._port(packet.port_address)
        if not port:
            return Verdict.REFUSED
        key = (ip, packet.physical)
        source = port.sources.get(key)
        if not source and len(port.sources) >= MERGE_SOURCES_MAX:
            return Verdict.REFUSED
        if source and source.is_newer_than(packet, now):
            port.counters.out_of_order += 1
            return Verdict.OUT_OF_ORDER
        self._latest_ip = ip
        port.note(key, packet, now)
        if self._is_synchronized(now) and not port.is_merging:
            return Verdict.HELD
        port.release()
        return Verdict.ACCEPTED

    def synchronize(self, ip: str, now: float) -> Verdict:
        """Take an ArtSync from `ip`: held levels are acted on.

        It is refused from any sender but that of the latest ArtDmx. A port that is merging never holds.
        """
        if ip != self._latest_ip:
            return Verdict.REFUSED
        self._synchronized_s = now
        self._release_all()
        return Verdict.ACCEPTED

    def expire(self, now: float) -> list[int]:
        """Forget the sources that are silent; return the Port-Addresses that lost their last one."""
        if self._synchronized_s is not None and not self._is_synchronized(now):
            self._synchronized_s = None
            self._release_all()
        return [address for address, port in self._ports.items() if _expire(port, now)]

    def levels(self, port_address: int) -> bytes | None:
        """Return the merged levels, or the last there were; None if nothing ever came."""
        return self._ports.get(port_address, _Port()).result

    def sources(self, port_address: int) -> tuple[SourceKey, ...]:
        """Return who sends this Port-Address."""
        return tuple(self._ports.get(port_address, _Port()).sources)

    def counters(self, port_address: int) -> Counters:
        """Return the counters of a Port-Address over all its sources, present and past."""
        return self._ports.get(port_address, _Port()).counters

    def _is_synchronized(self, now: float) -> bool:
        return self._synchronized_s is not None and now - self._synchronized_s < SYNC_TIMEOUT_S

    def _release_all(self) -> None:
        for port in self._ports.values():
            port.release()

    def _port(self, port_address: int) -> _Port | None:
        if port_address not in self._ports and len(self._ports) >= UNIVERSES_MAX:
            silent = next((address for address, port in self._ports.items() if not port.sources), None)
            if silent is None:
                return None
            del self._ports[silent]
        return self._ports.setdefault(port_address, _Port())


def _expire(port: _Port, now: float) -> bool:
    """Drop a port's silent sources and say whether that left it without any."""
    silent = [key for key, source in port.sources.items() if now - source.heard_s >= MERGE_TIMEOUT_S]
    for key in silent:
        del port.sources[key]
    if silent:
        port.merge()
    return bool(silent) and not port.sources
