"""The witness: judges every datagram by what was asked for. It knows no sockets; time is an argument.

A packet is right when it is octet for octet the one that the standard and the setup ask for, when its
sequence goes on, and when its slots are those of a step of the show that is played, no step coming before
one that was seen. What is right is worked out here and in `promise`, apart from the engine.
"""

from collections import Counter
from dataclasses import dataclass, field, replace
from uuid import UUID

from streamer.demo.promise import Promise, darkness, promise_of
from streamer.display.model import Controller, Protocol
from streamer.display.numbering import universe_text
from streamer.display.patch import Patch, StreamKey
from streamer.engine.messages import Setup, Show
from streamer.errors import PacketError
from streamer.net.destinations import Destination
from streamer.wire import artnet, e131
from streamer.wire.sequence import ARTNET_NUMBERS, E131_NUMBERS

COMPLAINTS_KEPT = 20
PARSERS = {Protocol.E131: e131.parse, Protocol.ARTNET: artnet.parse}
Levels = e131.DataPacket | artnet.ArtDmx


@dataclass(slots=True)
class Heard:
    """What has arrived of one stream."""

    packets: int = 0
    """Terminations included."""
    lost: int = 0
    """Missing by their sequence."""
    wrong: int = 0
    terminated: int = 0
    is_dark: bool = True
    """Whether the newest levels are all zero."""


@dataclass(slots=True)
class _Place:
    """How far a stream has come."""

    row: int
    controller: Controller
    act: int = 0
    """Which promise it is at."""
    step: int = 0
    sequence: int | None = None


@dataclass(slots=True)
class Witness:
    """Listens for the streams of a patch, all sent by `setup`."""

    setup: Setup
    patch: Patch
    heard: dict[StreamKey, Heard] = field(default_factory=dict)
    complaints: list[str] = field(default_factory=list)
    foreign: Counter[str] = field(default_factory=Counter)
    """Packets that somebody else sends."""
    ours: int = 0
    """Packets of levels that the engine sent, as far as they can be known for that."""
    discovered: tuple[int, ...] | None = None
    """The universes that were announced; None when no announcement was heard."""
    _cid: UUID | None = None
    _early: list[tuple[e131.DiscoveryPacket, bytes]] = field(default_factory=list)
    """Announcements heard before any level told which CID is ours."""
    _sources: dict[Protocol, Destination] = field(default_factory=dict)
    _promises: list[Promise] = field(default_factory=list)
    _is_ending: bool = False
    _places: dict[StreamKey, _Place] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for row, stream in enumerate(self.patch.streams):
            self.heard[stream.key] = Heard()
            self._places[stream.key] = _Place(row, stream.controller)

    def expect(self, show: Show, now_s: float) -> Promise:
        """From now on the steps of this show are right, and no more those before once it has begun."""
        self._promises.append(promise_of(self.patch, show, now_s))
        return self._promises[-1]

    def expect_end(self, now_s: float) -> Promise:
        """From now on darkness is right, and the end of the streams."""
        self._promises.append(darkness(self.patch, now_s))
        self._is_ending = True
        return self._promises[-1]

    def take(self, protocol: Protocol, payload: bytes, source: Destination, now_s: float) -> bool:
        """Judge one datagram, and say whether it is the engine's."""
        try:
            packet = PARSERS[protocol](payload)
        except PacketError as error:
            return self._stray(protocol, source, f"a packet that no receiver may accept: {error}")
        match packet:
            case e131.DataPacket(universe=number) | artnet.ArtDmx(port_address=number):
                key = self._key(protocol, number)
                if key is None:
                    return self._stray(protocol, source, f"{universe_text(protocol, number)} is not planned")
                if not self._is_ours(packet, protocol, source):
                    return self._stray(
                        protocol, source, f"another source on {universe_text(protocol, number)}"
                    )
                self._take_levels(key, packet, payload, now_s)
                return True
            case e131.DiscoveryPacket():
                return self._take_discovery(packet, payload)
            case _:
                return self._stray(
                    protocol, source, f"a packet that was not asked for: {type(packet).__name__}"
                )

    def _key(self, protocol: Protocol, number: int) -> StreamKey | None:
        keys = (key for key in self.heard if (key.protocol, key.universe) == (protocol, number))
        return next(keys, None)

    def _is_ours(self, packet: Levels, protocol: Protocol, source: Destination) -> bool:
        """Tell our packets by the socket that they come from: the first that names itself as asked."""
        if protocol not in self._sources and getattr(packet, "source_name", self._name) == self._name:
            self._sources[protocol] = source
        return self._sources.get(protocol) == source

    @property
    def _name(self) -> str:
        return self.setup.source_name

    def _stray(self, protocol: Protocol, source: Destination, what: str) -> bool:
        """Complain of a packet of ours that must not be, or count one of somebody else."""
        is_ours = self._sources.get(protocol) == source
        if is_ours:
            self.ours += 1
            self._complain(what)
        else:
            self.foreign[what] += 1
        return is_ours

    def _take_levels(self, key: StreamKey, packet: Levels, payload: bytes, now_s: float) -> None:
        self.ours += 1
        heard, place = self.heard[key], self._places[key]
        heard.packets += 1
        faults = [self._octet_fault(packet, payload, place), self._sequence_fault(packet.sequence, key)]
        if isinstance(packet, e131.DataPacket) and packet.options & e131.Options.STREAM_TERMINATED:
            heard.terminated += 1
            faults.append("" if self._is_ending else "terminated in the middle of the show")
        else:
            heard.is_dark = not any(packet.slots)
            faults += [
                "goes on after its end" if heard.terminated else "",
                self._slots_fault(packet, place, now_s),
            ]
        found = list(filter(None, faults))
        heard.wrong += bool(found)
        for fault in found:
            self._complain(f"{universe_text(key.protocol, key.universe)}: {fault}")

    def _octet_fault(self, packet: Levels, payload: bytes, place: _Place) -> str:
        """Compare with the packet that was asked for, which has the same slots and sequence."""
        wanted = self._wanted(packet, place.controller).encode()
        if payload == wanted:
            return ""
        pairs = enumerate(zip(payload, wanted, strict=False))
        octet = next((octet for octet, (got, right) in pairs if got != right), min(len(payload), len(wanted)))
        return f"octet {octet} of the packet is not as asked for"

    def _wanted(self, packet: Levels, controller: Controller) -> Levels:
        if isinstance(packet, artnet.ArtDmx):
            return replace(packet, physical=controller.physical)
        if self._cid is None:
            self._cid = packet.cid
            for early, octets in self._early:
                self._take_discovery(early, octets)
        options = packet.options & e131.Options.STREAM_TERMINATED
        if controller.preview:
            options |= e131.Options.PREVIEW_DATA
        if controller.force_synchronization:
            options |= e131.Options.FORCE_SYNCHRONIZATION
        return replace(
            packet,
            cid=self._cid,
            source_name=self._name,
            priority=controller.priority,
            sync_address=controller.sync_address,
            start_code=controller.start_code,
            options=options,
        )

    def _sequence_fault(self, sequence: int, key: StreamKey) -> str:
        place, before = self._places[key], self._places[key].sequence
        numbers = E131_NUMBERS if key.protocol is Protocol.E131 else ARTNET_NUMBERS
        step = 1 if before is None else (sequence - before) % numbers
        if not 0 < step < numbers // 2:
            return f"its sequence is {sequence}, after {before}"
        self.heard[key].lost += step - 1
        place.sequence = sequence
        return ""

    def _slots_fault(self, packet: Levels, place: _Place, now_s: float) -> str:
        """Find the step with these slots: not before the one seen last, or in a later show."""
        for act in range(place.act, len(self._promises)):
            promise = self._promises[act]
            step = promise.step_of(place.row, packet.slots, place.step if act == place.act else 0)
            if step is not None and step <= promise.reached(now_s):
                place.act, place.step = act, step
                return ""
        known = any(promise.step_of(place.row, packet.slots, 0) is not None for promise in self._promises)
        return (
            "a step that is not due: it goes back, or leaps"
            if known
            else "slots that no step of the show has"
        )

    def _take_discovery(self, packet: e131.DiscoveryPacket, payload: bytes) -> bool:
        if self._cid is None:
            self._early = [*self._early, (packet, payload)][:COMPLAINTS_KEPT]
            return True
        if packet.cid != self._cid:
            self.foreign[f"universe discovery of {packet.source_name!r}"] += 1
            return False
        planned = tuple(sorted({key.universe for key in self.heard if key.protocol is Protocol.E131}))
        self.discovered = packet.universes
        wanted = e131.DiscoveryPacket(self._cid, self._name, planned)
        if payload != wanted.encode():
            self._complain(f"universe discovery announces {packet.universes}, not {planned} as planned")
        return True

    def _complain(self, what: str) -> None:
        if len(self.complaints) < COMPLAINTS_KEPT and what not in self.complaints:
            self.complaints.append(what)
