"""Frames made before they are due, some at a time: each of their moments then costs a wait and a send.

At ten universes a frame is some hundred small calls. After 25 ms asleep, with cold caches, they take several
times as long as one after another. So what the next frames will show, as far as nobody asks for anything
else, is made right after a frame, for all of them at once: from the pattern to packets, numbered and ready.

A frame that is no longer the one wanted at its moment is forgotten, and all is as if it had never been made:
the cadence goes back, and follows with the flash guard what was sent, and when. Nothing is sent but at its
moment. Where all of them went, the guard keeps what it foresaw: that each was seen as late as it may be.
Until that is settled, neither the batches nor the guard know of what was sent last. Time is an argument.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import takewhile
from typing import NamedTuple

import numpy as np

from patterns.plain import Frame
from streamer.engine.cadence import Cadence
from streamer.engine.clock import FrameClock
from streamer.engine.messages import Show
from streamer.engine.pacing import SPREAD_ABOVE_PACKETS, Wait
from streamer.engine.packing import Packing
from streamer.engine.player import Player, Reached
from streamer.engine.showing import Showing
from streamer.engine.stage import Foreseen, Stage
from streamer.engine.window import Shows
from streamer.net.prepared import Departure
from streamer.net.sender import Sender

FRAMES = 80
"""At 40 a second: 2 s. What is asked for meanwhile costs making them again. For ten universes, 32 would take
twice as long each: most of it is code that is not in the cache."""
SPAN_S = 2.0
"""At a few frames a second: with the next ones, a lost cable and another adapter are noticed."""
PACKETS_MOST = 800
"""In all of them."""
FIRST_FRAMES = 8
MAKING_S = 0.008
"""How long making them may take, of the 25 ms until the next is due: next time, fewer are made or more. With
fuses to be reckoned, a frame takes ten times as long; and the first time, twice as long."""
GROWTH_MOST = 4
"""By so many times at once: of a few frames, most of the time is what any number would take."""
BATCHES_MOST = 4
"""A sender keeps what it has worked out for 512 matrices of packets: one for each batch of each frame."""
PAUSE_S = 1.0
"""How long none are made after one that flashed too often or drew too much: the next would as well."""
NEVER_S = float("inf")


class Ready(NamedTuple):
    """A frame that only waits for its moment."""

    number: int
    moment_s: float
    acts: list[Departure | Shows]
    """What sends it and, where that is another picture than before, shows what there is to be seen of it."""
    frame: Frame
    reached: Reached
    """Where the player is with this frame."""


Sent = tuple[Ready, float]
"""A frame, and when it went."""


@dataclass(slots=True)
class _Before:
    """How all was when frames began to be made ahead."""

    cadences: list[Cadence]
    written: Frame | None


@dataclass(slots=True)
class Ahead:
    """The frames made ahead of a stage, which is not asked for any others while there are some."""

    stage: Stage
    sender: Sender
    showing: Showing
    _ready: list[Ready] = field(default_factory=list)
    """The next one last."""
    _sent: list[Sent] = field(default_factory=list)
    _noted: int = 0
    """How many of the sent ones have been told of."""
    _before: _Before | None = None
    _wished: tuple[object, ...] = ()
    _has_gone_on: bool = False
    """Whether guard and cadences have followed more than is ready."""
    _not_before_s: float = -NEVER_S
    _show: Show | None = None
    """What was shown when frames were made last."""
    _frames: int = FIRST_FRAMES
    """How many are to be made at a time."""
    _made: tuple[int, float] | None = None
    """How many have been, and since when, if nobody has looked at the time yet."""
    _packing: Packing | None = None

    @property
    def next_s(self) -> float:
        """The moment of the next frame that is ready."""
        return self._ready[-1].moment_s if self._ready else NEVER_S

    @property
    def most_frames(self) -> int:
        """How many frames may be ready at a time."""
        streams = len(self.stage.streams.keys)
        # More than that go in pieces.
        return min(FRAMES, PACKETS_MOST // max(streams, 1)) if streams <= SPREAD_ABOVE_PACKETS else 0

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
            and self.most_frames > 0
            and not any(batch.is_held for batch in batches)
        )

    def make(self, clock: FrameClock, until_s: float, now_s: float) -> None:
        """Make the frames that are due next on a clock, but none that is due at `until_s` or later."""
        self.settle()
        stage, streams = self.stage, self.stage.streams
        if stage.player.show is not self._show:
            # At another level, fuses may have to be reckoned.
            self._show, self._frames = stage.player.show, min(self._frames, FIRST_FRAMES)
        last_s = min(until_s, clock.deadline_s + SPAN_S)
        moments_s = list(
            takewhile(last_s.__gt__, map(clock.moment_s, range(min(self._frames, self.most_frames))))
        )
        if not moments_s or streams.wake_s < moments_s[0]:
            return
        cadences = [cadence.copy() for cadence in streams.cadences]
        self._before = _Before(cadences, streams.written)
        foreseen = stage.foresee(moments_s, clock.latest_s)
        if len(foreseen.frames) < len(moments_s):
            self._has_gone_on, self._not_before_s = True, moments_s[len(foreseen.frames)] + PAUSE_S
        if foreseen.frames:
            self._lay_out(moments_s[: len(foreseen.frames)], foreseen)
        self._wished, self._made = _wish(stage.player), (len(foreseen.frames), now_s)

    def _learn(self, now_s: float | None) -> bool:
        """Take note of how long making frames has taken, if nobody has called meanwhile; return whether so.

        `now_s` is what waiting for the moment when it began has returned: that it is now.
        """
        (frames, began_s), self._made = self._made or (0, 0.0), None
        if now_s is not None and frames:
            of_one_s = max(now_s - began_s, 0.0) / frames
            more = int(MAKING_S / of_one_s) if of_one_s else FRAMES
            self._frames = max(1, min(more, GROWTH_MOST * self._frames, FRAMES))
        return now_s is not None

    def _lay_out(self, moments_s: Sequence[float], foreseen: Foreseen) -> None:
        """Make these frames ready; none that a keep-alive comes before."""
        self._packing = self._packing or Packing(self.stage.streams, self.sender, self.most_frames)
        before = self.stage.streams.written
        departures = self._packing.pack(moments_s, foreseen)
        shows = self.showing.window.lay_by(*self.stage.seen(Frame(foreseen.nodes, foreseen.channels)))
        for number, acts in enumerate(departures):
            frame = foreseen.frames[number]
            if frame is not before:
                acts.append(shows[number])
            before, reached = frame, foreseen.reached[number]
            self._ready.append(Ready(number, moments_s[number], acts, frame, reached))
        self._ready.reverse()
        self._has_gone_on |= len(departures) < len(foreseen.frames)

    def depart(self, clock: FrameClock, wait: Wait, until_s: float) -> bool:
        """Send and show what is ready, each at its moment, as long as `wait` lets it, and before `until_s`.

        Return whether all of it went. So few lines because each is dear: caches are cold.
        """
        ready, sent, latest_s = self._ready, self._sent, clock.latest_s
        if self._made and not self._learn(wait(self._made[1])):
            return False
        if not self._is_wanted:
            return False
        while ready and (moment_s := ready[-1].moment_s) < until_s:
            now_s = wait(moment_s)
            if now_s is None or now_s - moment_s > latest_s:
                return False
            frame = ready.pop()
            sent.append((frame, now_s))
            for act in frame.acts:
                act()
        return True

    def send(self, clock: FrameClock, now_s: float) -> Ready | None:
        """Send and show the frame due at `now_s`; return it. None, and none is left, if it is not wanted."""
        ready, self._made = self._ready[-1] if self._ready else None, None
        if (
            ready is None
            or ready.moment_s != clock.deadline_s
            or now_s - ready.moment_s > clock.latest_s
            or not self._is_wanted
        ):
            self.settle()
            return None
        self._sent.append((self._ready.pop(), now_s))
        for act in ready.acts:
            act()
        return ready

    def news(self) -> list[Sent]:
        """Return what has been sent since this was asked last, and let the player be where that is."""
        news = self._sent[self._noted :]
        self._noted = len(self._sent)
        if news:
            self.stage.player.reached = news[-1][0].reached
            self._wished = _wish(self.stage.player)
        return news

    @property
    def _is_wanted(self) -> bool:
        """Whether nobody has asked for anything else since the frames were made."""
        return all(map(_is, self._wished, _wish(self.stage.player)))

    def settle(self) -> None:
        """Forget what has not been sent."""
        if self._packing and self._sent:
            self._packing.stand_at(self._sent[-1][0].number)
        if self._before and (self._ready or self._has_gone_on):
            self._go_back_to(self._before)
        elif self._before:
            self.stage.guard.keep()
        self._before, self._ready, self._sent, self._noted = None, [], [], 0
        self._has_gone_on = False

    def _go_back_to(self, before: _Before) -> None:
        """Let guard and cadences follow what has been sent, and nothing else."""
        stage, streams = self.stage, self.stage.streams
        streams.go_back_to(before.cadences, before.written)
        if self._packing and self._sent:
            nodes, channels = (
                np.stack(each) for each in zip(*(ready.frame for ready, _ in self._sent), strict=True)
            )
            sent_s = [at_s for _, at_s in self._sent]
            # They were judged when they were made, and have gone: none is held now, whenever that was.
            shown = stage.guard.admit_each(nodes, channels, [NEVER_S] * len(sent_s), sent_s)
            for number, (frame, at_s) in enumerate(zip(shown, sent_s, strict=True)):
                streams.at_written_frame(frame, self._packing.changes(number), at_s)


def _is(one: object, other: object) -> bool:
    return one is other


def _wish(player: Player) -> tuple[object, ...]:
    """Return all that decides what a player shows next: the very objects."""
    return player.show, player.in_hand, player.dark, player.reached
