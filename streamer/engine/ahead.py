"""Frames made before they are due, some at a time: each of their moments then costs a wait and a send.

At ten universes a frame is some hundred small calls. After 25 ms asleep, with cold caches, they take several
times as long as one after another, right after a frame. So what the next frames will show, as far as
nobody asks for anything else, is made there, from the pattern to the numbered packets.

A frame that is no longer the one wanted at its moment is forgotten, and all is as if it had never been made:
the flash guard and the cadence go back and follow again what was sent. Nothing is sent but at its moment, and
the flash guard takes it that every frame was seen as late as it may be. Time is an argument.
"""

import copy
from dataclasses import dataclass, field
from typing import NamedTuple

from patterns.plain import Bytes, Frame
from streamer.display.slots import Indices
from streamer.engine.batch import Batch
from streamer.engine.cadence import Cadence
from streamer.engine.clock import FrameClock
from streamer.engine.guard import FlashGuard
from streamer.engine.player import Player, Reached
from streamer.engine.stage import Stage
from streamer.net.sender import Sender

FRAMES = 12
"""At 40 a second: 0.3 s. What is asked for meanwhile costs making them again, as far as they were sent."""
STREAMS_MOST = 64
"""Such frames go in one piece. Of more streams, several fill the caches, and nothing is won."""
BATCHES_MOST = 4
"""A sender keeps what it has worked out for 64 matrices of packets: one for each batch of each frame."""
PAUSE_S = 1.0
"""How long none are made after one that flashed too often or drew too much: the next would as well."""
NEVER_S = float("inf")


class Ready(NamedTuple):
    """A frame that only waits for its moment."""

    moment_s: float
    packets: list[tuple[Bytes, Indices, Batch]]
    """Numbered; which rows of them go; whose they are."""
    frame: Frame
    reached: Reached
    """Where the player is with this frame."""


@dataclass(slots=True)
class _Before:
    """How all was when frames began to be made ahead."""

    guard: FlashGuard
    cadences: list[Cadence]
    packets: list[Bytes]
    written: Frame | None


@dataclass(slots=True)
class Ahead:
    """The frames made ahead of a stage, which is not asked for any others while there are some."""

    stage: Stage
    sender: Sender
    _ready: list[Ready] = field(default_factory=list)
    """The next one last."""
    _sent: list[tuple[Ready, float]] = field(default_factory=list)
    _before: _Before | None = None
    _wished: tuple[object, ...] = ()
    _is_blocked: bool = False
    _not_before_s: float = -NEVER_S
    _copies: list[list[Bytes]] = field(default_factory=list)

    @property
    def next_s(self) -> float:
        """The moment of the next frame that is ready."""
        return self._ready[-1].moment_s if self._ready else NEVER_S

    @property
    def last_s(self) -> float:
        """The moment of the last frame that is ready: then more can be made."""
        return self._ready[0].moment_s if self._ready else NEVER_S

    def can_be(self, now_s: float) -> bool:
        """Whether frames of this stage, as it is at `now_s`, may be made ahead."""
        stage, batches = self.stage, self.stage.streams.batches
        return (
            now_s >= self._not_before_s
            and not stage.player.bursts
            and not stage.limiter.is_dimming
            and 0 < len(batches) <= BATCHES_MOST
            and len(stage.streams.keys) <= STREAMS_MOST
            and not any(batch.is_held for batch in batches)
        )

    def make(self, clock: FrameClock, until_s: float) -> None:
        """Make the frames that are due next on a clock, but none that is due at `until_s` or later."""
        self.settle()
        player, streams = self.stage.player, self.stage.streams
        self._before = self._now()
        reached = player.reached
        for number in range(FRAMES):
            moment_s = clock.moment_s(number)
            if moment_s >= until_s or streams.wake_s < moment_s:
                # The end comes first, or a keep-alive.
                break
            ready = self._made(number, moment_s, moment_s + clock.latest_s)
            if ready is None:
                self._is_blocked, self._not_before_s = True, moment_s + PAUSE_S
                break
            self._ready.insert(0, ready)
        player.reached = reached
        self._wished = _wish(player)

    def _made(self, number: int, moment_s: float, seen_s: float) -> Ready | None:
        stage, held = self.stage, self.stage.guard.held
        frame, due = stage.compose(moment_s, moment_s, seen_s)
        if stage.guard.held > held or stage.limiter.is_dimming:
            return None
        packets = [self._copied(number, place, *each) for place, each in enumerate(due) if len(each[1])]
        return Ready(moment_s, packets, frame, stage.player.reached)

    def _copied(self, number: int, place: int, batch: Batch, rows: Indices) -> tuple[Bytes, Indices, Batch]:
        batch.number(rows)
        if not self._copies:
            batches = self.stage.streams.batches
            self._copies = [[each.packets.copy() for each in batches] for _ in range(FRAMES)]
        into = self._copies[number][place]
        into[:] = batch.packets
        return into, rows, batch

    def send(self, clock: FrameClock, now_s: float) -> Ready | None:
        """Send the frame due at `now_s` and return it; None, and none is left, if it is not wanted."""
        ready = self._ready[-1] if self._ready else None
        if (
            ready is None
            or ready.moment_s != clock.deadline_s
            or now_s - ready.moment_s > clock.latest_s
            or not all(map(_is, self._wished, _wish(self.stage.player)))
        ):
            self.settle()
            return None
        self._ready.pop()
        self._sent.append((ready, now_s))
        for packets, rows, batch in ready.packets:
            self.sender.send(packets, rows, batch.destinations)
        self.stage.player.reached = ready.reached
        self._wished = _wish(self.stage.player)
        return ready

    def settle(self) -> None:
        """Forget what has not been sent."""
        before, sent = self._before, self._sent
        if before and (self._ready or self._is_blocked):
            self._go_back_to(before)
            for ready, sent_s in sent:
                self._follow(ready, sent_s)
        self._before, self._ready, self._sent, self._is_blocked = None, [], [], False

    def _now(self) -> _Before:
        stage, streams = self.stage, self.stage.streams
        guard = stage.guard.copy()
        cadences = [copy.deepcopy(cadence) for cadence in streams.cadences]
        return _Before(guard, cadences, [batch.packets.copy() for batch in streams.batches], streams.written)

    def _go_back_to(self, before: _Before) -> None:
        streams = self.stage.streams
        self.stage.guard = before.guard
        streams.go_back_to(before.cadences, before.packets, before.written)

    def _follow(self, ready: Ready, sent_s: float) -> None:
        """Let guard and cadence follow a frame that has been sent."""
        for batch, rows in self.stage.follow(ready.frame, sent_s):
            batch.number(rows)


def _is(one: object, other: object) -> bool:
    return one is other


def _wish(player: Player) -> tuple[object, ...]:
    """Return all that decides what a player shows next: the very objects."""
    return player.show, player.in_hand, player.dark, player.reached
