"""A small display on both protocols, and its packets: made by `streamer.wire` alone, without the engine."""

from dataclasses import dataclass, field, replace
from functools import cache
from uuid import UUID

import numpy as np
import pytest

from patterns.plain import Frame, Moment
from patterns.registry import get, settle
from streamer.demo.findings import Findings
from streamer.demo.lights import Lights
from streamer.demo.witness import Witness
from streamer.display.model import Controller, Display, Fixture, Port, Protocol, Role, Segment
from streamer.display.patch import compile_patch
from streamer.engine.messages import Counts, Ended, Lateness, Setup, Show
from streamer.net.receiver import Datagram
from streamer.wire import artnet, e131

CID = UUID("5b0c1d5e-7a0d-4a55-9d9b-0d6a5f3f9b11")
SOURCE = ("127.0.0.1", 40_000)
LEVEL = 30
FRAME_S = 0.025
DATA, TERMINATION = "data", "termination"
patch_of = cache(compile_patch)


def boathouse() -> Display:
    """Return one string of ten nodes and one flood on each protocol."""
    return Display(
        name="Boathouse",
        controllers=tuple(
            Controller(
                name=name,
                protocol=protocol,
                address="127.0.0.1",
                ports=(Port(name=f"{name}/1", number=1, universe=7, segments=(Segment(nodes=10),)),),
                fixtures=(Fixture(name=f"flood {name}", universe=7, slot=100, channels=channels),),
            )
            for name, protocol, channels in (
                ("jetty", Protocol.E131, (Role.DIMMER, Role.RED, Role.STROBE)),
                ("lake", Protocol.ARTNET, (Role.RED, Role.GREEN)),
            )
        ),
    )


@dataclass(frozen=True)
class Sent:
    """A packet on its way: tests bend it before it arrives."""

    protocol: Protocol
    payload: bytes
    now_s: float
    kind: str
    source: tuple[str, int] = SOURCE

    def bent(self, octet: int, value: int | None = None) -> "Sent":
        """Return it with one octet changed."""
        octets = bytearray(self.payload)
        octets[octet] = octets[octet] ^ 0x55 if value is None else value
        return replace(self, payload=bytes(octets))


@dataclass
class Script:
    """Writes the packets of a run, as a faultless sender would send them."""

    display: Display = field(default_factory=boathouse)
    sent: list[Sent] = field(default_factory=list)
    now_s: float = 100.0
    _sequence: dict[Protocol, int] = field(default_factory=lambda: {Protocol.E131: 250, Protocol.ARTNET: 250})

    def play(self, show: Show, steps: int, step_s: float) -> None:
        """Send a show's first steps, one every `step_s`."""
        patch = patch_of(self.display)
        pattern = get(show.pattern)
        for step in range(steps):
            raw = pattern.render(patch.layout, Moment(step, 0.0), settle(pattern, show.params))
            # Level 30: nodes and E1.31's dimmer are scaled, its red is not; Art-Net's flood has no dimmer.
            channels = raw.channels.copy()
            for index in (0, 3, 4):
                channels[index] = int(channels[index]) * LEVEL // 100
            self.frame(Frame((raw.nodes.astype(int) * LEVEL // 100).astype(np.uint8), channels))
            self.now_s += step_s - FRAME_S

    def frame(self, frame: Frame, options: e131.Options = e131.NO_OPTIONS, kind: str = DATA) -> None:
        """Send one frame to both."""
        patch = patch_of(self.display)
        slots = np.zeros((2, 512), np.uint8)
        patch.scatter(frame, slots)
        self.now_s += FRAME_S
        e131_number = self._next(Protocol.E131, 0)
        packet = e131.DataPacket(CID, "Ropewalk", 7, slots[0].tobytes(), e131_number, options=options)
        self.sent.append(Sent(Protocol.E131, packet.encode(), self.now_s, kind))
        if kind == DATA:
            dmx = artnet.ArtDmx(7, slots[1].tobytes(), self._next(Protocol.ARTNET, 1))
            self.sent.append(Sent(Protocol.ARTNET, dmx.encode(), self.now_s, kind))

    def _next(self, protocol: Protocol, first: int) -> int:
        number = self._sequence[protocol]
        self._sequence[protocol] = first if number == 255 else number + 1
        return number

    def end(self) -> None:
        """Send darkness, and the three terminations of ANSI E1.31-2018 clause 6.2.6."""
        dark = patch_of(self.display).layout.dark()
        for _ in range(4):
            self.frame(dark)
        for _ in range(3):
            self.frame(dark, e131.Options.STREAM_TERMINATED, TERMINATION)


@dataclass
class Trial:
    """A script's packets, to be heard as they are or bent."""

    script: Script
    shows: tuple[tuple[Show, float, int], ...]
    """Each with when it was asked for, and the step that it comes to."""
    end_s: float

    def hear(self, sent: list[Sent], *, packets: int | None = None, unheard: int = 0) -> Findings:
        """Let the witness hear these packets; `packets` is how many the sender says that it sent."""
        display = self.script.display
        patch = patch_of(display)
        witness, lights = Witness(Setup(display=display), patch), Lights(display, patch)
        looks, waiting = [], [*self.shows, (None, self.end_s, 0)]
        promise, last_step = None, 0
        for each in sent:
            while waiting and waiting[0][1] <= each.now_s:
                show, began_s, next_last_step = waiting.pop(0)
                if promise:
                    looks.append(lights.compare(promise, last_step))
                last_step = next_last_step
                promise = witness.expect(show, began_s) if show else witness.expect_end(began_s)
            if witness.take(each.protocol, each.payload, each.source, each.now_s):
                lights.take(each.protocol, Datagram(each.payload, each.source, "127.0.0.1"), each.now_s)
        assert promise
        looks.append(lights.compare(promise, 0))
        count = len(self.script.sent) if packets is None else packets
        ended = Ended(reason="stopped", counts=Counts(packets=count), lateness=Lateness(), seconds=1.0)
        return Findings(display, witness, tuple(looks), ended, unheard)


@pytest.fixture(name="trial")
def _trial() -> Trial:
    """Walk at its pace, then the fixtures at the three steps a second that are allowed, and a proper end."""
    script, shows = Script(), []
    for pattern, steps, step_s in (("walk", 8, 0.05), ("fixtures", 4, 0.35)):
        show = Show(pattern=pattern, pace=20.0, level_percent=LEVEL)
        shows.append((show, script.now_s, steps - 1))
        script.play(show, steps, step_s)
    end_s = script.now_s
    script.end()
    return Trial(script, tuple(shows), end_s)
