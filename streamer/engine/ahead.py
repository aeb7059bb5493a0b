"""Frames made before they are due, some at a time: each of their moments then costs a wait and a send.

A frame is some hundred small calls. After 25 ms asleep, with cold caches, they take several times as long as
one after another. So what the next frames will show, as far as nobody asks for anything else, is made right
after a frame, for all of them at once: from the pattern to packets, numbered and ready.

A frame that is no longer the one wanted at its moment is forgotten, and all is as if it had never been made:
the cadence goes back, and follows with the flash guard what was sent, and when. Nothing is sent but at its
moment; of a frame that has begun, the other pieces go all the same. Where all of them went, the guard keeps
what it foresaw: that each was seen as late as it may be. Until that is settled, nobody is to ask guard,
batches or player for anything, or to look at what they show. Time is an argument.
"""

from dataclasses import dataclass, field
from itertools import takewhile

from streamer.engine.ahead_in_short import FramesInShort
from streamer.engine.ahead_whole import WholeFrames
from streamer.engine.clock import FrameClock
from streamer.engine.difference import MANY_NODES
from streamer.engine.messages import Show
from streamer.engine.outbound import Outbound
from streamer.engine.pacing import SPREAD_ABOVE_PACKETS, Wait
from streamer.engine.player import Player
from streamer.engine.portion import Portion
from streamer.engine.ready import LaterPiece, Made, Ready, Sent
from streamer.engine.showing import Showing
from streamer.engine.stage import Stage

FRAMES = 80
"""At 40 a second: 2 s. What is asked for meanwhile costs making them again. For ten universes, 32 would take
twice as long each: most of it is code that is not in the cache."""
SPAN_S = 2.0
"""At a few frames a second: with the next ones, a lost cable and another adapter are noticed."""
PACKETS_MOST = 800
"""In all of them, where they are made whole."""
BATCHES_MOST = 4
"""A sender keeps what it has worked out for 512 matrices of packets: one for each batch of each frame."""
PAUSE_S = 1.0
"""How long none are made after one that flashed too often or drew too much: the next would as well."""
NEVER_S = float("inf")


@dataclass(slots=True)
class Ahead:
    """The frames made ahead of a stage, which is not asked for any others while there are some."""

    stage: Stage
    outbound: Outbound
    showing: Showing
    _ready: list[Ready] = field(default_factory=list)
    """The next one last."""
    _later: tuple[LaterPiece, ...] = ()
    """What follows the first piece of the frame that has begun last."""
    _gone: int = 0
    """How many of these have gone."""
    _began_s: float = 0.0
    """When that frame began to go, in time or a little late: its pieces stay as far apart."""
    _sent: list[Sent] = field(default_factory=list)
    _noted: int = 0
    """How many of the sent ones have been told of."""
    _made: Made | None = None
    _has_gone_on: bool = False
    """Whether guard and cadences have followed more than was ready."""
    _wished: tuple[object, ...] = ()
    _not_before_s: float = -NEVER_S
    _show: Show | None = None
    """What was shown when frames were made last."""
    _is_choppy: bool = False
    """Whether of that, fewer frames than were wanted could be made in short."""
    _portion: Portion = field(default_factory=Portion)
    _whole: WholeFrames | None = None
    _in_short: FramesInShort | None = None

    @property
    def next_s(self) -> float:
        """The moment of the next frame that is ready, or of the next piece."""
        if self._gone < len(self._later):
            return self._began_s + self._later[self._gone].after_s
        return self._ready[-1].moment_s if self._ready else NEVER_S

    @property
    def has_begun_the_last(self) -> bool:
        """Whether no frame is ready of which nothing has gone."""
        return not self._ready

    @property
    def most_frames(self) -> int:
        """How many frames may be ready whole at a time."""
        streams = len(self.stage.streams.keys)
        # More than that go in pieces.
        return min(FRAMES, PACKETS_MOST // max(streams, 1)) if streams <= SPREAD_ABOVE_PACKETS else 0

    @property
    def last_s(self) -> float:
        """The moment of the last piece of the last frame that is ready: then more can be made."""
        if self._ready:
            last = self._ready[0]
            return last.moment_s + last.later[-1].after_s if last.later else last.moment_s
        return self._began_s + self._later[-1].after_s if self._gone < len(self._later) else NEVER_S

    def can_be(self, now_s: float) -> bool:
        """Whether frames of this stage, as it is at `now_s`, may be made ahead."""
        stage, batches = self.stage, self.stage.streams.batches
        return (
            now_s >= self._not_before_s
            and not stage.player.bursts
            and not stage.limiter.is_dimming
            and 0 < len(batches) <= BATCHES_MOST
            and (self.most_frames > 0 or self._is_in_short)
            and not any(batch.is_held for batch in batches)
        )

    @property
    def _is_in_short(self) -> bool:
        """Whether frames are made in short: of many nodes, unless whole ones do better and can be had."""
        is_known = self.stage.nodes_in_all >= MANY_NODES and self.stage.is_in_short
        return is_known and not (self._is_choppy and self.most_frames > 0)

    def make(self, clock: FrameClock, until_s: float, now_s: float) -> None:
        """Make the frames that are due next on a clock, but none that is due at `until_s` or later."""
        self.settle()
        stage = self.stage
        if stage.player.show is not self._show:
            # At another level, fuses may have to be reckoned.
            self._show, self._is_choppy = stage.player.show, False
            self._portion.begin_anew()
        is_in_short = self._is_in_short
        most = min(self._portion.frames, FRAMES if is_in_short else self.most_frames)
        last_s = min(until_s, clock.deadline_s + SPAN_S)
        moments_s = list(takewhile(last_s.__gt__, map(clock.moment_s, range(most))))
        if not moments_s or stage.streams.wake_s < moments_s[0]:
            return
        self._made = made = self._make(moments_s, clock)
        frames = made.foreseen if made else 0
        if frames < len(moments_s):
            self._is_choppy |= is_in_short
            self._not_before_s = moments_s[frames] + PAUSE_S
        self._ready = made.ready[::-1] if made else []
        self._has_gone_on = len(self._ready) < len(moments_s)
        self._wished = _wish(stage.player)
        self._portion.begun(frames, now_s)

    def _make(self, moments_s: list[float], clock: FrameClock) -> Made | None:
        stage, outbound = self.stage, self.outbound
        if self._is_in_short:
            self._in_short = self._in_short or FramesInShort(
                stage, outbound.sender, self.showing, outbound.cut
            )
            return self._in_short.make(moments_s, clock.latest_s, clock.period_s)
        self._whole = self._whole or WholeFrames(stage, outbound.sender, self.showing, self.most_frames)
        return self._whole.make(moments_s, clock.latest_s)

    def depart(self, clock: FrameClock, wait: Wait, until_s: float) -> bool:
        """Send and show what is ready, each at its moment, as long as `wait` lets it, and before `until_s`.

        Return whether all of it went. So few lines because each is dear: caches are cold.
        """
        ready, latest_s = self._ready, clock.latest_s
        began_s = self._portion.began_s
        if began_s is not None and not self._portion.learn(wait(began_s), FRAMES):
            return False
        if not self._is_wanted:
            return False
        while self._go_on(wait, until_s):
            if not ready or (moment_s := ready[-1].moment_s) >= until_s:
                return True
            now_s = wait(moment_s)
            if now_s is None or now_s - moment_s > latest_s:
                return False
            self._begin(ready.pop(), now_s)
        return False

    def _begin(self, frame: Ready, now_s: float) -> None:
        """Send and show the first piece of a frame."""
        self._sent.append((frame, now_s))
        self._later, self._gone, self._began_s = frame.later, 0, now_s
        for act in frame.acts:
            act()

    def _go_on(self, wait: Wait, until_s: float) -> bool:
        """Send the other pieces of the frame that has begun, before `until_s`; return whether all went."""
        for piece in self._later[self._gone :]:
            moment_s = self._began_s + piece.after_s
            if moment_s >= until_s or wait(moment_s) is None:
                return False
            piece.depart()
            self._gone += 1
        return True

    def tick(self, now_s: float) -> None:
        """Send the pieces that are due of the frame that has begun."""
        for piece in self._later[self._gone :]:
            if self._began_s + piece.after_s > now_s:
                return
            piece.depart()
            self._gone += 1

    def send(self, clock: FrameClock, now_s: float) -> Ready | None:
        """Send and show the frame due at `now_s`; return it. None, and none is left, if it is not wanted."""
        self.tick(NEVER_S)
        self._portion.forget()
        ready = self._ready[-1] if self._ready else None
        if (
            ready is None
            or ready.moment_s != clock.deadline_s
            or now_s - ready.moment_s > clock.latest_s
            or not self._is_wanted
        ):
            self.settle()
            return None
        self._begin(self._ready.pop(), now_s)
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
        """Forget what has not been sent; of a frame that has begun, the other pieces go all the same."""
        if self._made and (self._ready or self._has_gone_on):
            self._made.go_back_to(self._sent)
        elif self._made:
            self._made.keep()
        if self._sent:
            self.showing.note(self.stage.guard.shown)
        left = self._later[self._gone :]
        self.outbound.take_over([(self._began_s + piece.after_s, piece.due) for piece in left])
        self._made, self._ready, self._sent, self._noted, self._later = None, [], [], 0, ()


def _is(one: object, other: object) -> bool:
    return one is other


def _wish(player: Player) -> tuple[object, ...]:
    """Return all that decides what a player shows next: the very objects."""
    return player.show, player.in_hand, player.dark, player.reached
