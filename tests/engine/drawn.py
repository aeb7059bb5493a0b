"""Drawn displays, moves and lateness, and an engine that is played with them."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import repeat
from typing import Any, NamedTuple
from unittest.mock import patch

import numpy as np
from hypothesis import strategies as st

from patterns.plain import Frame
from patterns.registry import all_patterns
from streamer.display.electrics import NodeKind, Supply
from streamer.display.model import Controller, Display, Fixture, Port, Protocol, Role, Segment
from streamer.display.patch import StreamKey
from streamer.engine import difference, making, pacing, strides
from streamer.engine.source import Source
from tests.engine.bench import CID, Bench, Sent, Shown, play
from tests.engine.flashing import flashes, most_in_a_second

PATTERNS = [pattern.name for pattern in all_patterns()]
AT_HOME = [name for name in PATTERNS if name != "probe"]
"""Those that light nothing beside the plan."""
RATES_HZ = [1.0, 1.15, 2.0, 3.0, 4.0, 5.0, 7.3, 10.0, 25.0, 40.0, 44.0]
PERCENT, FULL, RGB = 100, 255, 3
TENTH = FULL / 10
"""WCAG's definition of a general flash: 10 % of the maximum."""
SHED = Supply(name="shed", volts=5, amps=1000)
MADE = NodeKind(name="made", volts=5, volts_min=4.5, full_ma=(18.5,) * 3, idle_ma=1.0)

PIECES_MOST = 100
FEW_SHARE = 0.7
"""Of the lights of a small display that is played as if it were large."""

Move = tuple[str, object]


def moves(patterns: Sequence[str] = PATTERNS) -> st.SearchStrategy[Move]:
    """Draw what a person may do in the middle of a run."""
    return st.one_of(
        st.tuples(st.just("step"), st.integers(-50, 50)),
        st.tuples(st.just("level"), st.integers(1, 100)),
        st.tuples(st.just("pattern"), st.sampled_from(patterns)),
        st.tuples(st.just("rate"), st.sampled_from(RATES_HZ)),
        st.tuples(st.just("pace"), st.sampled_from([0.0, 1.0, 6.0, 15.0, 40.0])),
        st.tuples(st.just("ports"), st.sampled_from([None, ("a/1",)])),
        st.tuples(st.just("calm"), st.integers(1, 3)),
        st.tuples(st.just("hold"), st.booleans()),
        st.tuples(st.just("dark"), st.booleans()),
        st.tuples(st.just("look"), st.none()),
    )


def do(bench: Bench, what: str, value: object) -> None:
    """Do it, in the run in progress."""
    run = bench.runs[-1]
    changed = {
        "level": "level_percent", "pattern": "pattern", "rate": "rate_hz", "pace": "pace", "ports": "ports",
    }  # fmt: skip
    if what in changed:
        run.change(run.show.model_copy(update={changed[what]: value}), bench.now_s)
    elif what == "step":
        run.player.step_by(int(str(value)))
    elif what == "jump":
        run.player.jump(int(str(value)))
    elif what == "look":
        run.be_watched(on=value is None or bool(value))
    elif what == "hold":
        run.player.in_hand = bool(value)
    elif what == "calm":
        run.calm(int(str(value)))
    elif what == "dark":
        run.show_dark(bench.now_s, on=bool(value))


@contextmanager
def as_if_large() -> Iterator[None]:
    """Let small displays be played as large ones are: known in short, and in pieces over 10 ms."""
    with (
        patch.object(making, "MANY_NODES", 1),
        patch.object(difference, "MANY_NODES", 1),
        patch.object(difference, "FEW_SHARE", FEW_SHARE),
        patch.object(strides, "FEW_SHARE", FEW_SHARE),
        patch.object(making, "SPREAD_ABOVE_PACKETS", 1),
        patch.object(pacing, "SPREAD_ABOVE_PACKETS", 1),
        patch.object(pacing, "PIECE_PACKETS", 2),
        patch.object(pacing, "PIECE_MOST_PACKETS", 2),
    ):
        yield


@st.composite
def displays(draw: st.DrawFn) -> Display:
    """Draw a display of one batch or some: both protocols, strings of any length, a fuse or none."""
    controllers: list[Controller] = []
    universe = 1
    kinds = st.sampled_from([(Protocol.E131, True), (Protocol.ARTNET, True), (Protocol.ARTNET, False)])
    for letter, (protocol, is_numbered) in zip(
        "abcd", draw(st.lists(kinds, min_size=1, max_size=4)), strict=False
    ):
        lengths = draw(st.lists(st.sampled_from([1, 9, 50, 100]), min_size=1, max_size=3))
        ports = []
        for number, nodes in enumerate(lengths, 1):
            fuse_a = draw(st.sampled_from([None, None, nodes * 0.02]))
            ports.append(port_of(f"{letter}/{number}", number, universe, nodes, fuse_a))
            universe += 1
        flood = Fixture(name=f"flood {letter}", universe=universe, channels=(Role.DIMMER, Role.RED, Role.PAN))
        controllers.append(
            Controller(
                name=letter,
                protocol=protocol,
                address=f"127.0.0.{len(controllers) + 1}",
                slots=draw(st.sampled_from([300, 512])),
                sequence=is_numbered,
                ports=tuple(ports),
                fixtures=(flood,) if draw(st.booleans()) else (),
            )
        )
        universe += 1
    return Display(
        name="drawn",
        controllers=tuple(controllers),
        supplies=(SHED,),
        node_kinds=(MADE,),
    )


def port_of(name: str, number: int, universe: int, nodes: int, fuse_a: float | None) -> Port:
    """Return a port of `SHED` with one segment of `MADE` nodes."""
    return Port(
        name=name,
        number=number,
        universe=universe,
        segments=(Segment(nodes=nodes),),
        supply=SHED.name,
        node_kind=MADE.name,
        fuse_a=fuse_a,
    )


@dataclass
class Timed(Shown):
    """A window that keeps when it showed what."""

    bench: Bench
    frames: list[Frame] = field(default_factory=list)
    shown_s: list[float] = field(default_factory=list)
    _laid_by: int = 0

    def _keep(self, frame: Frame) -> None:
        super()._keep(frame)
        self.shown_s.append(self.bench.now_s)


@dataclass
class Late:
    """An engine that is woken as late as it was drawn, and now and then called away."""

    display: Display
    setup: dict[str, Any]
    lateness: Iterator[float]
    """In parts of a frame."""
    calls: Iterator[bool]
    """Whether somebody calls in the middle of a wait."""

    def begin(self, pattern: str, **show: object) -> None:
        """Begin a run."""
        self.bench = Bench(source=Source(CID))
        self.window = self.bench.window = Timed(self.bench)
        self.run = self.bench.start(play(pattern, self.display, setup=self.setup, **show))
        self.bench.tick()

    def pass_time(self, seconds: float) -> None:
        """Go on as the process does: a tick, then what is ready departs."""
        bench, until_s = self.bench, self.bench.now_s + seconds
        while bench.now_s < until_s:
            self._wait(self.run.wake_s)
            bench.tick()
            self.run.depart(self._wait_unless_called, min(self.run.attention_s, until_s))
            bench.hear()

    def let_the_rest_go(self) -> None:
        """Let all pieces go, in time, of the frame that has begun."""
        self.lateness, self.calls = repeat(0.0), repeat(False)
        for _ in range(PIECES_MOST):
            if self.run.pieces_s >= self.run.next_frame_s:
                return
            self._wait(self.run.pieces_s)
            self.bench.tick()
        raise AssertionError("a frame in pieces that never ends")

    def _wait(self, moment_s: float) -> float:
        late_s = next(self.lateness) / self.run.show.rate_hz
        self.bench.hear()
        self.bench.now_s = max(self.bench.now_s, moment_s + late_s)
        return self.bench.now_s

    def _wait_unless_called(self, moment_s: float) -> float | None:
        return None if next(self.calls) else self._wait(moment_s)

    def received(self) -> dict[StreamKey, Sent]:
        """Return the newest packet of every stream."""
        return {packet.key: packet for packet in self.bench.packets}


def assert_in_order(packets: Sequence[Sent]) -> None:
    """E1.31-2018 6.2.5, Art-Net 4 ArtDmx: each number is the one after the last, or 0 for not numbered."""
    last: dict[StreamKey, int] = {}
    for packet in packets:
        before = last.get(packet.key)
        if packet.key.protocol is Protocol.E131:
            wanted = {None} if before is None else {(before + 1) % 256}
        else:
            wanted = {0, 1} if before is None else {before and before % 255 + 1}
        assert None in wanted or packet.sequence in wanted, f"{packet.key}: {packet.sequence} after {before}"
        last[packet.key] = packet.sequence


def assert_calm(packets: Sequence[Sent], most: int) -> None:
    """WCAG 2.x success criterion 2.3.1, slot by slot, at the moments at which packets went."""
    slots_of: dict[StreamKey, list[Sent]] = {}
    for packet in packets:
        slots_of.setdefault(packet.key, []).append(packet)
    for of_stream in slots_of.values():
        values = np.array([list(packet.slots) for packet in of_stream])
        moments_s = [packet.at_s for packet in of_stream]
        for column in np.unique(values, axis=1).T:
            assert most_in_a_second(flashes(zip(moments_s, column.tolist(), strict=True), TENTH)) <= most


class Evening(NamedTuple):
    """What is played, and what a person does meanwhile."""

    display: Display
    setup: dict[str, Any]
    pattern: str
    rate_hz: float
    done: list[tuple[float, Move]]
    """Each after so many seconds."""


def evenings(patterns: Sequence[str] = PATTERNS) -> st.SearchStrategy[Evening]:
    """Draw one."""
    setups = st.fixed_dictionaries(
        {"every_frame": st.booleans(), "flashes_per_s": st.integers(1, 3)},
        optional={"seconds": st.floats(0.5, 5.0)},
    )
    waits_s = st.integers(0, 1500).map(lambda ms: ms / 1000)
    done = st.lists(st.tuples(waits_s, moves(patterns)), max_size=6)
    return st.builds(Evening, displays(), setups, st.sampled_from(patterns), st.sampled_from(RATES_HZ), done)


def levels_of(display: Display, received: dict[StreamKey, Sent]) -> Iterator[tuple[Port, np.ndarray | None]]:
    """Yield what each string shows by its packets, (nodes, 3); None where none has come."""
    for controller in display.controllers:
        for port in controller.ports:
            key = next((key for key in received if key.universe == port.universe), None)
            slots = received[key].slots[: port.nodes * RGB] if key else None
            yield port, None if slots is None else np.frombuffer(slots, np.uint8).reshape(-1, RGB)
