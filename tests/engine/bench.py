"""A small display of our own, an engine without sockets or clock, and what it sent, parsed."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any, NamedTuple
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Bytes, Frame
from streamer.display.model import Controller, Display, Fixture, Port, Protocol, Role, Segment
from streamer.display.patch import StreamKey
from streamer.display.slots import Indices
from streamer.engine.engine import Run
from streamer.engine.messages import Play, Setup, Show
from streamer.engine.outlet import Outlet
from streamer.engine.source import Source
from streamer.net.sender import RecordingSender
from streamer.wire import artnet, e131

CID = UUID("6f1d3c52-9d0b-4c2e-8f6a-1f2e3d4c5b6a")
JETTY = "127.0.0.1"
SLIPWAY = "127.0.0.2"
TURNS_A_SECOND = 500


def port(number: int, universe: int, nodes: int, controller: str = "jetty") -> Port:
    """Return a port of one segment."""
    return Port(
        name=f"{controller}/{number}", number=number, universe=universe, segments=(Segment(nodes=nodes),)
    )


def boathouse(*universes: int) -> Display:
    """Return a display of an E1.31 controller with 50 nodes on each universe, and an Art-Net flood."""
    ports = tuple(port(index + 1, universe, 50) for index, universe in enumerate(universes or (1, 2)))
    flood = Fixture(name="flood", universe=7, channels=(Role.DIMMER, Role.RED))
    return Display(
        name="boathouse",
        controllers=(
            Controller(name="jetty", protocol=Protocol.E131, address=JETTY, ports=ports),
            Controller(name="slipway", protocol=Protocol.ARTNET, address=SLIPWAY, fixtures=(flood,)),
        ),
    )


def play(
    pattern: str = "level",
    display: Display | None = None,
    *,
    setup: dict[str, Any] | None = None,
    **show: Any,
) -> Play:
    """Return the request to play a pattern."""
    return Play(
        setup=Setup(display=display or boathouse(), **(setup or {})),
        show=Show(**{"pattern": pattern, "level_percent": 100, **show}),
    )


class Sent(NamedTuple):
    """A packet as a receiver reads it."""

    at_s: float
    key: StreamKey
    sequence: int
    slots: bytes
    is_terminated: bool


class Shown:
    """A window that keeps what it showed: of a frame written, no more than what it is told has changed."""

    _written: Frame | None = None
    """The frame written last, unless another has been shown since."""

    def __init__(self) -> None:
        self.frames: list[Frame] = []
        self.laid_by: list[Callable[[], None]] = []
        self._newest: Frame | None = None

    def write(self, frame: Frame, altered: Indices | None = None) -> None:
        """Keep a frame."""
        nodes = frame.nodes
        if self._written and altered is not None:
            nodes = self._written.nodes
            nodes[altered] = frame.nodes[altered]
        self._written = Frame(nodes.copy(), frame.channels.copy())
        self._keep(self._written)

    def alter(self, lights: Indices, words: NDArray[np.uint32]) -> None:
        """Keep the newest frame with other octets in these lights."""
        assert len(lights)
        nodes = self.frames[-1].nodes.copy()
        nodes.view(np.uint32)[lights, 0] = words
        self.write(Frame(nodes, self.frames[-1].channels))

    def _keep(self, frame: Frame) -> None:
        self.frames.append(Frame(frame.nodes.copy(), frame.channels.copy()))

    def lay_by(self, nodes: Bytes, channels: Bytes) -> list[Callable[[], None]]:
        """Return what keeps each of these, until others are laid by."""
        self._newest = every = Frame(nodes, channels)
        self.laid_by = [partial(self._show, number, every) for number in range(len(nodes))]
        return self.laid_by

    def _show(self, number: int, of: Frame) -> None:
        assert of is self._newest, "others have been laid by since"
        self._written = None
        self._keep(Frame(of.nodes[number], of.channels[number]))


@dataclass
class Bench:
    """An engine's runs under a fake clock."""

    now_s: float = 1000.0
    source: Source = field(default_factory=lambda: Source(CID))
    data: RecordingSender = field(default_factory=RecordingSender)
    discovery: RecordingSender = field(default_factory=RecordingSender)
    runs: list[Run] = field(default_factory=list)
    packets: list[Sent] = field(default_factory=list)
    lists: list[tuple[float, e131.DiscoveryPacket]] = field(default_factory=list)
    window: Shown = field(default_factory=Shown)
    lets_depart: bool = True

    def start(self, request: Play) -> Run:
        """Replace the run in progress, as the desk does."""
        run = Run(request, self.source, self.outlet, self.now_s)
        before = self.runs[-1] if self.runs else None
        if before:
            before.end("another run began", self.now_s, run.keys)
        run.show_in(self.window)
        run.begin(before)
        self.runs.append(run)
        return run

    def outlet(self, _setup: Setup) -> Outlet:
        """Open the one outlet there is."""
        return Outlet(self.data, (self.discovery,), "the bench")

    def tick(self) -> None:
        """Let what is due now happen, and read what was sent."""
        for run in self.runs:
            run.tick(self.now_s)
        self.hear()

    def hear(self) -> None:
        """Read what was sent just now."""
        self.packets += [read(octets, address, self.now_s) for octets, (address, _) in self.data.sent]
        self.lists += [(self.now_s, _discovery(octets)) for octets, _ in self.discovery.sent]
        self.data.sent.clear()
        self.discovery.sent.clear()

    def pass_time(self, seconds: float) -> list[Sent]:
        """Let time pass from waking to waking; return what was sent meanwhile."""
        before, until_s, turns = len(self.packets), self.now_s + seconds, 0
        self.tick()
        while (
            next_s := min((run.wake_s for run in self.runs if not run.is_over), default=np.inf)
        ) <= until_s:
            assert next_s >= self.now_s - 1e-9, "woken for something in the past"
            self.now_s = max(next_s, self.now_s)
            self.tick()
            self._let_depart(until_s)
            turns += 1
            assert turns < TURNS_A_SECOND * (seconds + 1), "it spins"
        self.now_s = until_s
        return self.packets[before:]

    def _let_depart(self, until_s: float) -> None:
        """Let what is ready go without a tick, as the desk does while there is one run."""
        alive = [run for run in self.runs if not run.is_over]

        def wait(moment_s: float) -> float | None:
            self.hear()
            if moment_s > until_s:
                return None
            self.now_s = max(self.now_s, moment_s)
            return self.now_s

        if self.lets_depart and len(alive) == 1:
            alive[0].depart(wait, alive[0].attention_s)
            self.hear()

    def of(self, universe: int) -> list[Sent]:
        """Return what was sent to a universe."""
        return [packet for packet in self.packets if packet.key.universe == universe]


def read(octets: bytes, address: str, at_s: float) -> Sent:
    """Read a packet with the codecs, which are tested against the standards elsewhere."""
    if octets.startswith(b"Art-Net"):
        dmx = artnet.parse(octets)
        assert isinstance(dmx, artnet.ArtDmx)
        return Sent(
            at_s, StreamKey(Protocol.ARTNET, address, dmx.port_address), dmx.sequence, dmx.slots, False
        )
    data = e131.parse(octets)
    assert isinstance(data, e131.DataPacket)
    assert data.cid == CID
    key = StreamKey(Protocol.E131, address, data.universe)
    return Sent(at_s, key, data.sequence, data.slots, e131.Options.STREAM_TERMINATED in data.options)


def _discovery(octets: bytes) -> e131.DiscoveryPacket:
    packet = e131.parse(octets)
    assert isinstance(packet, e131.DiscoveryPacket)
    return packet


def assert_unbroken(packets: Sequence[Sent]) -> None:
    """Each packet of a stream has the number after the last one: E1.31-2018 6.2.5; Art-Net 4, ArtDmx."""
    last: dict[StreamKey, int] = {}
    for packet in packets:
        if packet.key in last:
            before = last[packet.key]
            wanted = (before + 1) % 256 if packet.key.protocol is Protocol.E131 else before % 255 + 1
            assert packet.sequence == wanted, f"{packet.key}: {packet.sequence} after {before}"
        last[packet.key] = packet.sequence


def shows(bench: Bench, pattern: str, **show: Any) -> None:
    """Change to a pattern, at the present moment."""
    bench.runs[-1].change(Show(**{"pattern": pattern, "level_percent": 100, **show}), bench.now_s)


def is_dark(slots: bytes) -> bool:
    """Say whether every slot is zero."""
    return not any(slots)
