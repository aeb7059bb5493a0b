"""The engine's heart: on each tick, what is due goes out. No process, no clock, no clients."""

from patterns.registry import get
from streamer.display.patch import StreamKey
from streamer.engine.ahead import Ahead
from streamer.engine.clock import FrameClock
from streamer.engine.complaints import Complaints
from streamer.engine.farewell import Farewells
from streamer.engine.flash_limit import calmed, flash_limit
from streamer.engine.messages import Counts, Play, Show, State
from streamer.engine.outbound import Outbound
from streamer.engine.outlet import OpenOutlet
from streamer.engine.pacing import NEVER_S, SPREAD_S, Wait
from streamer.engine.player import Player
from streamer.engine.showing import Showing
from streamer.engine.source import Source
from streamer.engine.stage import Stage, check_display
from streamer.engine.tally import Tally
from streamer.engine.window import Window

MS_PER_S = 1000
AT_ONCE_S = 0.0


class Run:
    """One run from its first packet to its last.

    Raises PlanError, PatternError or NetworkError when it cannot be had; `begin` makes it start.
    """

    def __init__(self, play: Play, source: Source, open_outlet: OpenOutlet, now_s: float) -> None:
        check_display(play.setup.display)
        self.setup = play.setup
        self.show = play.show
        self.began_s = now_s
        self.ending_reason = ""
        self._source = source
        self._clock = FrameClock(play.show.rate_hz, now_s)
        self.tally = Tally()
        self._held_before = 0
        self.stage = Stage(play.setup, play.show, source.cid, now_s)
        self.outlet = open_outlet(play.setup)
        self.complaints = Complaints(self.outlet)
        self._showing = Showing(self.stage)
        gap_s = play.setup.sync_gap_ms / MS_PER_S
        self._outbound = Outbound(self.outlet, source, play.setup.spread, gap_s)
        self._ahead = Ahead(self.stage, self._outbound, self._showing)
        self._is_to_make = False
        """Whether frames are to be made ahead once the last piece of the present one has gone."""
        self._farewells = Farewells(source, self._outbound)
        source.recalls.append(self._farewells.recall)

    def show_in(self, window: Window) -> None:
        """Let frames be looked at there, from the first on; it has room for what is planned."""
        self._showing.window = window

    def be_watched(self, *, on: bool) -> None:
        """Let somebody look at the frames from now on, or nobody."""
        if on and not self._showing.is_watched:
            # What is ready shows nothing, since nobody looked.
            self._ahead.settle()
        self._showing.be_watched(on=on)

    def begin(self, before: "Run | None" = None) -> None:
        """Take up the streams, from the run before if there is one, which has been told to end."""
        self._take_up()
        if before:
            self._clock.put_off_to(before.next_frame_s)
        if before and before.setup.display == self.setup.display:
            self.stage.remember(before.stage)
        elif before:
            self.stage.guard.go_on_as_a_whole_from(before.stage.guard)

    def change(self, show: Show, now_s: float) -> None:
        """Show something else from the next frame on, without a gap; or raise and go on as before."""
        self._ahead.settle()
        if get(show.pattern).neighbours != self.stage.has_neighbours:
            self._restage(show, now_s)
        else:
            self.player.change(show)
        if show.rate_hz != self.show.rate_hz:
            self._clock.change_rate(show.rate_hz)
        self.show = show

    def calm(self, flashes_per_s: int) -> None:
        """Let lights flash so often from the next frame on; no more than the display allows."""
        self._ahead.settle()
        self.setup = calmed(self.setup, flashes_per_s)
        self.stage.limit(flash_limit(self.setup))

    def _restage(self, show: Show, now_s: float) -> None:
        """Go over to streams with or without the neighbouring universes."""
        before, stage = self.stage, Stage(self.setup, show, self._source.cid, now_s)
        self._outbound.flush()
        self._showing.go_over_to(stage)
        stage.go_on_from(before)
        self._held_before += before.guard.held
        self._retire(before, stage.streams.keys, now_s)
        self.stage, self._ahead = stage, Ahead(stage, self._outbound, self._showing)
        self._take_up()

    def _take_up(self) -> None:
        """Have all streams to itself, each going on from its last number, whoever sent it."""
        self._source.recall(self.keys)
        self.stage.streams.resume(self._source.sequences)

    def _retire(self, stage: Stage, going_on: frozenset[StreamKey], now_s: float) -> None:
        self._source.sequences |= stage.streams.sequences()
        self._farewells.begin(stage.streams.leave(going_on, now_s))

    def end(self, reason: str, now_s: float, going_on: frozenset[StreamKey] = frozenset()) -> None:
        """Begin to end: dark, then terminated. Asking twice changes nothing.

        Streams in `going_on` are another run's from now on: they are neither darkened nor terminated.
        """
        if not self.ending_reason:
            self.ending_reason = reason
            self._ahead.settle()
            if going_on:
                self._outbound.flush()
            else:
                self._outbound.drop(self.stage.streams.batches)
            self._retire(self.stage, going_on, now_s)
            if not going_on:
                self.stage.go_dark(now_s)

    def show_dark(self, now_s: float, *, on: bool) -> None:
        """Show nothing from the next moment on that may have a frame, or the pattern again from its next."""
        self._ahead.settle()
        self.player.dark = on
        if on:
            self._clock.hasten_to(now_s)

    def tick(self, now_s: float) -> None:
        """Send what is due at `now_s`."""
        if now_s >= self._end_s:
            self.end("time is up", now_s)
        self.complaints.tick(now_s)
        self._outbound.tick(now_s)
        self._farewells.tick(now_s)
        if self.ending_reason:
            return
        if not self.tally.frames:
            # Laying out takes its time; the frames are counted from the first that can be sent.
            self._clock.put_off_to(now_s)
        if now_s >= self._clock.deadline_s:
            if not self._send_ready(now_s):
                self._send_frame(now_s)
            self._is_to_make = self._may_make(now_s)
        elif now_s >= self._ahead.next_s:
            self._ahead.tick(now_s)
            self._is_to_make = self._may_make(now_s)
        elif now_s >= self.stage.streams.wake_s:
            self._ahead.settle()
            keep_alives = self.stage.streams.between_frames(now_s)
            self._outbound.put(keep_alives, now_s, self._clock.deadline_s - now_s, self._spread_most_s)
        self._make_ahead(now_s)
        self._source.discovery.tick(
            self.stage.streams.e131_universes,
            self._source.cid,
            self.setup.source_name,
            self.outlet.send_to_groups,
            now_s,
        )

    def depart(self, wait: Wait, until_s: float) -> bool:
        """Send and show what waits for its moment, before `until_s`, for as long as `wait` lets it.

        Return whether all of it went.
        """
        if self._outbound.is_waiting:
            return self._outbound.depart(wait, until_s)
        try:
            return self._ahead.depart(self._clock, wait, until_s)
        finally:
            self._take_note()

    def _send_ready(self, now_s: float) -> bool:
        """Send the frame that is due, if it was made ahead and is still wanted."""
        ready = self._ahead.send(self._clock, now_s)
        if ready is None:
            return False
        self._take_note()
        return True

    def _take_note(self) -> None:
        """Take note of the frames made ahead that have gone."""
        for _, sent_s in self._ahead.news():
            self.tally.add(self._clock.arrive(sent_s), is_dimmed=False)

    def _may_make(self, now_s: float) -> bool:
        return self._ahead.has_begun_the_last and self._outbound.is_at_once and self._ahead.can_be(now_s)

    def _make_ahead(self, now_s: float) -> None:
        """Make frames ahead, if they are to be made and nothing else waits to go."""
        if (
            self._is_to_make
            and self._ahead.next_s == NEVER_S
            and not self._outbound.is_waiting
            and self._farewells.are_over
        ):
            self._is_to_make = False
            self._ahead.make(self._clock, self._end_s, now_s)

    def _send_frame(self, now_s: float) -> None:
        self._outbound.flush()
        arrival = self._clock.arrive(now_s)
        frame, due = self.stage.compose(arrival.moment_s, now_s)
        self.tally.add(arrival, is_dimmed=self.stage.limiter.is_dimming)
        self._outbound.put(due, now_s, self._clock.period_s, self._spread_most_s)
        self._showing.show(frame)

    @property
    def _spread_most_s(self) -> float:
        """The longest time that packets which are due together may take."""
        if self.player.bursts:
            return AT_ONCE_S
        return SPREAD_S if self.player.dark else NEVER_S

    @property
    def _end_s(self) -> float:
        return self.began_s + (float("inf") if self.setup.seconds is None else self.setup.seconds)

    @property
    def next_frame_s(self) -> float:
        """The moment before which another run's frames would crowd this one's (E1.31-2018 clause 6.6.1)."""
        return self._clock.deadline_s

    @property
    def wake_s(self) -> float:
        """The moment at which something is due next."""
        return min(self.attention_s, self.pieces_s)

    @property
    def pieces_s(self) -> float:
        """The moment at which something goes that only waits for it."""
        return min(self._outbound.wake_s, self._ahead.next_s)

    @property
    def attention_s(self) -> float:
        """The moment at which `tick` has something to do."""
        moments = [self._farewells.wake_s]
        if not self.ending_reason:
            moments += [
                self._ahead.last_s if self._ahead.next_s < NEVER_S else self._clock.deadline_s,
                self._outbound.last_s if self._is_to_make else NEVER_S,
                self.stage.streams.wake_s,
                self._source.discovery.wake_s,
                self._end_s,
            ]
        return min(moments)

    @property
    def is_over(self) -> bool:
        """Whether the last packet has been sent."""
        return bool(self.ending_reason) and self._farewells.are_over

    @property
    def player(self) -> Player:
        """What is being shown."""
        return self.stage.player

    @property
    def frames_ahead(self) -> int:
        """How many frames may be made ahead at the most."""
        return self._ahead.most_frames

    @property
    def keys(self) -> frozenset[StreamKey]:
        """Which streams go out."""
        return self.stage.streams.keys

    @property
    def state(self) -> State:
        """What a person is told that it does."""
        return State.ENDING if self.ending_reason else self.player.state

    def counts(self) -> Counts:
        """Return what has happened so far."""
        held = self._held_before + self.stage.guard.held
        return self.tally.counts(self.outlet, held, self._outbound.synchronizations)

    def close(self) -> None:
        """Close the sockets."""
        self._source.recalls.remove(self._farewells.recall)
        self.outlet.close()
