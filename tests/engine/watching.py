"""A run on a display of few nodes or of many, somebody who looks at its frames, and what was asked of it."""

from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from patterns.plain import Frame, Moment
from patterns.registry import get, settle
from streamer.display.model import Controller, Display, Fixture, Protocol, Role
from streamer.display.neighbours import neighbours
from streamer.engine.engine import Run
from streamer.engine.limits import Limits
from streamer.engine.messages import Play, Setup, Show
from streamer.link.newest import NewestFrame
from streamer.power.limiter import CurrentLimiter
from tests.engine.bench import Bench
from tests.engine.drawn import MADE, RGB, SHED, levels_of, port_of

STRINGS = 13
"""Of each controller."""
FEW, MANY = 20, 170
"""Nodes of a string: 338 in all; and 4,238, more than are looked at all together."""
FUSE_A = 0.4
FLOODS, FLOOD = (100, 200), (Role.DIMMER, Role.RED)
"""Their universes, each before those of the strings; and what each of them takes."""
LAID_BY = 80
SLOWEST_HZ = 10.0
ENOUGH_S = 1.5 / SLOWEST_HZ
"""Within that, a frame is due at any rate that is asked for."""
A_PIECE_S = 0.001


@cache
def display_of(nodes: int, *, is_fused: bool) -> Display:
    """Return a display by both protocols, of strings of so many nodes or fewer, two behind fuses or none."""
    controllers = [
        Controller(
            name=name,
            protocol=protocol,
            address=f"127.0.0.{flood}",
            ports=tuple(
                port_of(
                    f"{name}/{number}",
                    number,
                    flood + number,
                    nodes - number,
                    FUSE_A if is_fused and number == 1 else None,
                )
                for number in range(1, STRINGS + 1)
            ),
            fixtures=(Fixture(name=f"flood {name}", universe=flood, channels=FLOOD),),
        )
        for name, protocol, flood in zip("ab", (Protocol.E131, Protocol.ARTNET), FLOODS, strict=True)
    ]
    return Display(name="watched", controllers=tuple(controllers), supplies=(SHED,), node_kinds=(MADE,))


@cache
def _limiter(nodes: int, *, is_fused: bool, has_neighbours: bool) -> CurrentLimiter:
    display = display_of(nodes, is_fused=is_fused)
    return CurrentLimiter(neighbours(display) if has_neighbours else display)


@dataclass
class Watched:
    """Runs that follow each other on one display, and the shared frame of the present one."""

    folder: Path
    nodes: int
    """Of the longest strings."""
    setup: dict[str, Any]
    is_fused: bool
    bench: Bench = field(default_factory=Bench)
    _is_watched: bool = True
    _runs: int = 0

    @property
    def run(self) -> Run:
        """The present one."""
        return self.bench.runs[-1]

    def begin(self, show: Show) -> None:
        """Begin a run, in place of the one before if there is one."""
        self.display = display_of(self.nodes, is_fused=self.is_fused)
        run = self.bench.start(Play(setup=Setup(display=self.display, **self.setup), show=show))
        self._runs += 1
        path = self.folder / f"{self._runs}.frame"
        run.show_in(NewestFrame.create(path, run.stage.nodes, run.stage.channels, LAID_BY))
        run.be_watched(on=self._is_watched)
        self.reader = NewestFrame.open(path)

    def do(self, what: str, value: Any) -> None:  # noqa: ANN401  each move has a value of its own
        """Do what a person or a program may at any moment."""
        run, player, now_s = self.run, self.run.player, self.bench.now_s
        {
            "again": lambda: self.begin(value),
            "show": lambda: run.change(value, now_s),
            "step": lambda: player.step_by(value),
            "jump": lambda: player.jump(value),
            "hold": lambda: setattr(player, "in_hand", value),
            "dark": lambda: run.show_dark(now_s, on=value),
            "calm": lambda: run.calm(value),
            "look": lambda: self._look(on=value),
        }[what]()

    def _look(self, *, on: bool) -> None:
        self._is_watched = on
        self.run.be_watched(on=on)

    def pass_frames(self, seconds: float) -> bool:
        """Let a frame go, or some, with all pieces of the last; return whether none of them was held."""
        held = self.run.counts().held
        self.bench.pass_time(ENOUGH_S + seconds)
        while self.run.pieces_s < self.run.next_frame_s:
            self.bench.pass_time(A_PIECE_S)
        return self.run.counts().held == held

    def assert_sent_as_asked(self) -> None:
        """Hold the packets against what the planned lights are to show, made from nothing."""
        stage, show, player = self.run.stage, self.run.show, self.run.player
        layout, pattern = stage._layout, get(show.pattern)
        frame = layout.dark()
        if not player.dark:
            moment = Moment(player.step, player.reached.played_s)
            picture = pattern.render(layout, moment, settle(pattern, show.params))
            frame = Limits(layout, show.level_percent, show.ports).applied(picture)
        limiter = _limiter(self.nodes, is_fused=self.is_fused, has_neighbours=pattern.neighbours)
        self._assert_sent(Frame(limiter.limit(frame.nodes)[stage.planned], frame.channels))

    def assert_seen_as_sent(self) -> None:
        """Hold the shared frame against the packets, if anybody looks and a frame is there."""
        number, frame = self.reader.look()
        if self._is_watched and number:
            self._assert_sent(frame)

    def _assert_sent(self, frame: Frame) -> None:
        newest = {packet.key: packet for packet in self.bench.packets}
        levels = [levels for _, levels in levels_of(self.display, newest) if levels is not None]
        assert np.array_equal(np.concatenate(levels), frame.nodes[:, :RGB])
        slots = {key.universe: packet.slots for key, packet in newest.items()}
        assert b"".join(slots[flood][: len(FLOOD)] for flood in FLOODS) == frame.channels.tobytes()
