"""The closed loop without sockets: a look goes through packets into the yard, the robot looks at the yard."""

import random
from dataclasses import dataclass, field

import numpy as np

from patterns.plain import Bytes, Moment
from patterns.registry import get, settle
from streamer.display.model import MULTICAST, Display, Protocol
from streamer.display.patch import compile_patch
from streamer.find.answers import Answer
from streamer.find.finding import Bench, Finding
from streamer.find.look import Look
from streamer.find.questions import answers_to
from streamer.yard.faults import Fault, Flicker
from streamer.yard.yard import Yard
from tests.find import robot
from tests.yard.bench import art_dmx, data_packet

BEATS = 4
BEAT_S = 0.25


@dataclass
class Lawn:
    """A display hung up with faults, and what is sent to it."""

    display: Display
    bench: Bench
    faults: dict[str, list[Fault]]
    now: float = 0.0
    sequence: int = 0
    yard: Yard = field(init=False)

    def __post_init__(self) -> None:
        """Hang it up."""
        self.yard = Yard(self.display)
        for port, faults in self.faults.items():
            self.yard.set_faults(port, faults)
        self._patch = compile_patch(self.bench.thinking.canvas.display)
        self._pattern = get("picture")
        self._flickers = any(isinstance(each, Flicker) for given in self.faults.values() for each in given)

    def put_up(self, look: Look) -> None:
        """Send a look's picture, as the engine would."""
        told = self.bench.thinking.canvas.told(look.picture.slots)
        params = settle(self._pattern, {"nodes": told})
        frame = self._pattern.render(self._patch.layout, Moment(0, 0.0), params)
        slots = np.zeros((len(self._patch.streams), 512), np.uint8)
        self._patch.scatter(frame, slots)
        self.sequence = self.sequence % 255 + 1
        for stream, levels in zip(self._patch.streams, slots, strict=True):
            key = stream.key
            octets = levels[: stream.controller.slots].tobytes()
            packet = (
                data_packet(key.universe, octets, self.sequence)
                if key.protocol is Protocol.E131
                else art_dmx(key.universe, octets, self.sequence)
            )
            to = "239.255.0.1" if key.address == MULTICAST else key.address
            self.yard.take(packet, key.protocol, self.now, "127.0.0.1", to)

    def samples(self, port: str) -> list[Bytes]:
        """Return what a port's lights show over a second, or at one moment where nothing can flicker."""
        found = []
        for _ in range(BEATS if self._flickers else 1):
            self.now += BEAT_S
            self.yard.expire(self.now)
            found.append(self.yard.shown(port))
        return found

    def answer(self, look: Look) -> Answer:
        """Return the robot's truthful answer."""
        thinking, eyes = self.bench.thinking, self.bench.terms.eyes
        witness = thinking.witness
        return robot.answer(
            look.asks,
            self.samples(thinking.port.name),
            eyes.name,
            fed_at_end=thinking.port.reversed,
            sent=frozenset(Answer(int(eyes.seen[code])) for code in look.picture.sent),
            beside=self.samples(witness.name) if witness else (),
            expected=() if look.expected is None else look.expected.tolist(),
        )


def search(lawn: Lawn, wrong: float = 0.0, chance: random.Random | None = None) -> Finding:
    """Return a search that has come to its end, so many of whose answers were wrong."""
    finding = Finding(lawn.bench)
    while finding.look:
        lawn.put_up(finding.look)
        given = lawn.answer(finding.look)
        if chance and chance.random() < wrong:
            others = [each for each in answers_to(finding.look.asks, lawn.bench.terms.eyes) if each != given]
            given = chance.choice(others)
        finding.answer(given)
    return finding
