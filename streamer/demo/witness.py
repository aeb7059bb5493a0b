"""The witness: checks every datagram that arrives against what was meant. It knows no sockets or clocks.

A frame is right when its packet parses, its header fields are those asked for, its sequence goes on,
and its slots are those of a step of the pattern that was played. What each step should be is worked
out here from the pattern and the patch alone, apart from the engine.
"""

from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from patterns.plain import Frame, Moment
from patterns.registry import get, settle
from streamer.display.model import Protocol
from streamer.display.patch import Patch, StreamKey
from streamer.engine.messages import Setup, Show
from streamer.errors import PacketError
from streamer.wire import artnet, e131

COMPLAINTS_KEPT = 20
FULL = 255


@dataclass(slots=True)
class Heard:
    """What has arrived of one stream."""

    packets: int = 0
    lost: int = 0
    wrong: int = 0
    terminated: int = 0
    is_dark: bool = True
    last_sequence: int | None = None


@dataclass(slots=True)
class Witness:
    """Listens for the streams of a patch, all sent by `setup`."""

    setup: Setup
    patch: Patch
    heard: dict[tuple[Protocol, int], Heard] = field(default_factory=dict)
    complaints: list[str] = field(default_factory=list)
    foreign: Counter[str] = field(default_factory=Counter)
    _expected: dict[tuple[Protocol, int], set[bytes]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for stream in self.patch.streams:
            place = _place(stream.key)
            self.heard[place] = Heard()
            self._expected[place] = {bytes(stream.controller.slots)}

    def expect(self, show: Show) -> None:
        """From now on every step of this show is right as well."""
        pattern = get(show.pattern)
        params = settle(pattern, show.params)
        for step in range(pattern.steps(self.patch.layout, params)):
            picture = pattern.render(self.patch.layout, Moment(step, 0.0), params)
            self._expect_frame(self._at_level(picture, show.level_percent))

    def _at_level(self, picture: Frame, level_percent: float) -> Frame:
        nodes = (picture.nodes.astype(float) * level_percent / 100).astype(np.uint8)
        return Frame(nodes, np.zeros_like(picture.channels))

    def _expect_frame(self, frame: Frame) -> None:
        slots = np.zeros((len(self.patch.streams), 512), np.uint8)
        self.patch.scatter(frame, slots)
        for stream, row in zip(self.patch.streams, slots, strict=True):
            self._expected[_place(stream.key)].add(row[: stream.controller.slots].tobytes())

    def take(self, protocol: Protocol, payload: bytes) -> None:
        """Judge one datagram."""
        try:
            packet = e131.parse(payload) if protocol is Protocol.E131 else artnet.parse(payload)
        except PacketError as error:
            self._complain(f"a packet that no receiver may accept: {error}")
            return
        if isinstance(packet, e131.DataPacket):
            self._take_data(packet)
        elif isinstance(packet, artnet.ArtDmx):
            self._take_dmx(packet)

    def _take_data(self, packet: e131.DataPacket) -> None:
        place = (Protocol.E131, packet.universe)
        stream = next((s for s in self.patch.streams if _place(s.key) == place), None)
        if stream is None or packet.source_name != self.setup.source_name:
            self.foreign[f"universe {packet.universe} from {packet.source_name!r}"] += 1
            return
        heard = self.heard[place]
        if packet.priority != stream.controller.priority or packet.start_code != stream.controller.start_code:
            self._wrong(heard, f"universe {packet.universe}: priority or START code is not as asked")
        self._number(heard, packet.sequence, 256, first=0)
        if packet.options & e131.Options.STREAM_TERMINATED:
            heard.terminated += 1
            return
        self._judge(place, heard, packet.slots)

    def _take_dmx(self, packet: artnet.ArtDmx) -> None:
        place = (Protocol.ARTNET, packet.port_address)
        if place not in self.heard:
            self.foreign[f"Port-Address {packet.port_address}"] += 1
            return
        heard = self.heard[place]
        self._number(heard, packet.sequence, 255, first=1)
        self._judge(place, heard, packet.slots)

    def _number(self, heard: Heard, sequence: int, cycle: int, first: int) -> None:
        if heard.last_sequence is not None:
            heard.lost += (sequence - first - (heard.last_sequence - first) - 1) % cycle
        heard.last_sequence = sequence

    def _judge(self, place: tuple[Protocol, int], heard: Heard, slots: bytes) -> None:
        heard.packets += 1
        heard.is_dark = not any(slots)
        if slots not in self._expected[place]:
            self._wrong(heard, f"{place[0].value} {place[1]}: slots that no step of the pattern has")

    def _wrong(self, heard: Heard, what: str) -> None:
        heard.wrong += 1
        self._complain(what)

    def _complain(self, what: str) -> None:
        if len(self.complaints) < COMPLAINTS_KEPT and what not in self.complaints:
            self.complaints.append(what)


def _place(key: StreamKey) -> tuple[Protocol, int]:
    return key.protocol, key.universe
