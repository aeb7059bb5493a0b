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

from streamer.engine.clock import FrameClock
from streamer.engine.making import Making
from streamer.engine.outbound import Outbound
from streamer.engine.pacing import NEVER_S, Wait
from streamer.engine.player import Player
from streamer.engine.ready import LaterPiece, Made, Ready, Sent
from streamer.engine.showing import Showing
from streamer.engine.stage import Stage


@dataclass(slots=True)
class Ahead:
    """The frames made ahead of a stage, which is not asked for any others while there are some."""

    stage: Stage
    outbound: Outbound
    showing: Showing
    making: Making
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
    _just_made: tuple[int, float] | None = None
    """How many have been, and since when, if nobody has looked at the time yet."""

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
    def last_s(self) -> float:
        """The moment of the last piece of the last frame that is ready: then more can be made."""
        if self._ready:
            last = self._ready[0]
            return last.moment_s + last.later[-1].after_s if last.later else last.moment_s
        return self._began_s + self._later[-1].after_s if self._gone < len(self._later) else NEVER_S

    def make(self, clock: FrameClock, until_s: float, now_s: float) -> None:
        """Make the frames that are due next on a clock, but none that is due at `until_s` or later."""
        self.settle()
        moments_s = self.making.moments(clock, until_s)
        if not moments_s:
            return
        self._made = made = self.making.make(moments_s, clock)
        self._ready = made.ready[::-1] if made else []
        self._has_gone_on = len(self._ready) < len(moments_s)
        self._wished = _wish(self.stage.player)
        self._just_made = made.foreseen if made else 0, now_s

    def _learn(self, now_s: float | None) -> bool:
        """Take note of how long making frames has taken, if nobody has called meanwhile; return whether so.

        `now_s` is what waiting for the moment when it began has returned: that it is now.
        """
        (frames, began_s), self._just_made = self._just_made or (0, 0.0), None
        if now_s is not None:
            self.making.learn(frames, now_s - began_s)
        return now_s is not None

    def depart(self, clock: FrameClock, wait: Wait, until_s: float) -> bool:
        """Send and show what is ready, each at its moment, as long as `wait` lets it, and before `until_s`.

        Return whether all of it went. So few lines because each is dear: caches are cold.
        """
        ready, latest_s = self._ready, clock.latest_s
        if self._just_made and not self._learn(wait(self._just_made[1])):
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
        ready, self._just_made = self._ready[-1] if self._ready else None, None
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
