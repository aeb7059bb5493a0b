"""The frames of a run, each at its moment: made ahead where that is cheaper, or made when it is due."""

from streamer.engine.ahead import Ahead
from streamer.engine.clock import FrameClock
from streamer.engine.making import Making
from streamer.engine.outbound import Outbound
from streamer.engine.pacing import NEVER_S, SPREAD_S, Wait
from streamer.engine.showing import Showing
from streamer.engine.stage import Stage
from streamer.engine.tally import Tally

AT_ONCE_S = 0.0


class Frames:
    """Sends the frames of one stage at a time, and the keep-alives between them, as `clock` says."""

    def __init__(self, stage: Stage, clock: FrameClock, outbound: Outbound) -> None:
        self.clock = clock
        self.tally = Tally()
        self.showing = Showing(stage)
        self._outbound = outbound
        self._begin_with(stage)
        self._is_to_make = False
        """Whether frames are to be made ahead once the last piece of the present one has gone."""

    def go_over_to(self, stage: Stage) -> None:
        """Go on with the frames of another stage; those of the one before are settled."""
        self.showing.go_over_to(stage)
        self._begin_with(stage)

    def _begin_with(self, stage: Stage) -> None:
        self._stage = stage
        self._making = Making(stage, self._outbound, self.showing)
        self._ahead = Ahead(stage, self._outbound, self.showing, self._making)

    def be_watched(self, *, on: bool) -> None:
        """Let somebody look at the frames from now on, or nobody."""
        if on and not self.showing.is_watched:
            # What is ready shows nothing, since nobody looked.
            self.settle()
        self.showing.be_watched(on=on)

    def settle(self) -> None:
        """Forget the frames that have not been sent, before anything is asked of the stage or its player."""
        self._ahead.settle()

    def tick(self, now_s: float, until_s: float, *, is_alone: bool) -> None:
        """Send what is due at `now_s`; none is due at `until_s` or later.

        `is_alone` says that nothing but frames is on its way: only then are any made ahead.
        """
        if not self.tally.frames:
            # Laying out takes its time; the frames are counted from the first that can be sent.
            self.clock.put_off_to(now_s)
        if now_s >= self.clock.deadline_s:
            if not self._send_ready(now_s):
                self._send_frame(now_s)
            self._is_to_make = self._may_make(now_s)
        elif now_s >= self._ahead.next_s:
            self._ahead.tick(now_s)
            self._is_to_make = self._may_make(now_s)
        elif now_s >= self._stage.streams.wake_s:
            self.settle()
            keep_alives = self._stage.streams.between_frames(now_s)
            self._outbound.put(keep_alives, now_s, self.clock.deadline_s - now_s, self._spread_most_s)
        if is_alone and self._is_to_make and not self._outbound.is_waiting and self._ahead.next_s == NEVER_S:
            self._is_to_make = False
            # Since that was found out, something else may have been asked for.
            if self._may_make(now_s):
                self._ahead.make(self.clock, until_s, now_s)

    def depart(self, wait: Wait, until_s: float) -> bool:
        """Send and show what is ready, before `until_s`, for as long as `wait` lets it; whether all went."""
        try:
            return self._ahead.depart(self.clock, wait, until_s)
        finally:
            self._take_note()

    def _send_ready(self, now_s: float) -> bool:
        """Send the frame that is due, if it was made ahead and is still wanted."""
        ready = self._ahead.send(self.clock, now_s)
        if ready is None:
            return False
        self._take_note()
        return True

    def _take_note(self) -> None:
        """Take note of the frames made ahead that have gone."""
        for _, sent_s in self._ahead.news():
            self.tally.add(self.clock.arrive(sent_s), is_dimmed=False)

    def _may_make(self, now_s: float) -> bool:
        return (
            self._ahead.has_begun_the_last and self._outbound.is_at_once and self._making.is_possible(now_s)
        )

    def _send_frame(self, now_s: float) -> None:
        self._outbound.flush()
        arrival = self.clock.arrive(now_s)
        frame, due = self._stage.compose(arrival.moment_s, now_s)
        self.tally.add(arrival, is_dimmed=self._stage.limiter.is_dimming)
        self._outbound.put(due, now_s, self.clock.period_s, self._spread_most_s)
        self.showing.show(frame)

    @property
    def _spread_most_s(self) -> float:
        """The longest time that packets which are due together may take."""
        if self._stage.player.bursts:
            return AT_ONCE_S
        return SPREAD_S if self._stage.player.dark else NEVER_S

    @property
    def next_s(self) -> float:
        """The moment of what is ready next."""
        return self._ahead.next_s

    @property
    def attention_s(self) -> float:
        """The moment at which `tick` has something to do."""
        return min(
            self._ahead.last_s if self._ahead.next_s < NEVER_S else self.clock.deadline_s,
            self._outbound.last_s if self._is_to_make else NEVER_S,
            self._stage.streams.wake_s,
        )

    @property
    def most_ahead(self) -> int:
        """How many frames may be ready whole at a time."""
        return self._making.most_whole
