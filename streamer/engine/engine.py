"""The engine's heart: on each tick, what is due goes out. No process, no clock, no clients."""

from patterns.registry import get
from streamer.display.patch import StreamKey
from streamer.engine.clock import FrameClock
from streamer.engine.complaints import Complaints
from streamer.engine.farewell import Farewells
from streamer.engine.flash_limit import calmed, flash_limit
from streamer.engine.frames import Frames
from streamer.engine.messages import Counts, Play, Show, State
from streamer.engine.outbound import Outbound
from streamer.engine.outlet import OpenOutlet
from streamer.engine.pacing import Wait
from streamer.engine.player import Player
from streamer.engine.source import Source
from streamer.engine.stage import Stage, check_display
from streamer.engine.tally import Tally
from streamer.engine.window import Window

MS_PER_S = 1000


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
        self._held_before = 0
        self.stage = Stage(play.setup, play.show, source.cid, now_s)
        self.outlet = open_outlet(play.setup)
        self.complaints = Complaints(self.outlet)
        gap_s = play.setup.sync_gap_ms / MS_PER_S
        self._outbound = Outbound(self.outlet, source, play.setup.spread, gap_s)
        self._frames = Frames(self.stage, FrameClock(play.show.rate_hz, now_s), self._outbound)
        self._farewells = Farewells(source, self._outbound)
        source.recalls.append(self._farewells.recall)

    def show_in(self, window: Window) -> None:
        """Let frames be looked at there, from the first on; it has room for what is planned."""
        self._frames.showing.window = window

    def be_watched(self, *, on: bool) -> None:
        """Let somebody look at the frames from now on, or nobody."""
        self._frames.be_watched(on=on)

    def begin(self, before: "Run | None" = None) -> None:
        """Take up the streams, from the run before if there is one, which has been told to end."""
        self._take_up()
        if before:
            self._frames.clock.put_off_to(before.next_frame_s)
        if before and before.setup.display == self.setup.display:
            self.stage.remember(before.stage)
        elif before:
            self.stage.guard.go_on_as_a_whole_from(before.stage.guard)

    def change(self, show: Show, now_s: float) -> None:
        """Show something else from the next frame on, without a gap; or raise and go on as before."""
        self._frames.settle()
        if get(show.pattern).neighbours != self.stage.has_neighbours:
            self._restage(show, now_s)
        else:
            self.player.change(show)
        if show.rate_hz != self.show.rate_hz:
            self._frames.clock.change_rate(show.rate_hz)
        self.show = show

    def calm(self, flashes_per_s: int) -> None:
        """Let lights flash so often from the next frame on; no more than the display allows."""
        self._frames.settle()
        self.setup = calmed(self.setup, flashes_per_s)
        self.stage.limit(flash_limit(self.setup))

    def _restage(self, show: Show, now_s: float) -> None:
        """Go over to streams with or without the neighbouring universes."""
        before, stage = self.stage, Stage(self.setup, show, self._source.cid, now_s)
        self._outbound.flush()
        stage.go_on_from(before)
        self._held_before += before.guard.held
        self._retire(before, stage.streams.keys, now_s)
        self.stage = stage
        self._frames.go_over_to(stage)
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
            self._frames.settle()
            if going_on:
                self._outbound.flush()
            else:
                self._outbound.drop(self.stage.streams.batches)
            self._retire(self.stage, going_on, now_s)
            if not going_on:
                self.stage.go_dark(now_s)

    def show_dark(self, now_s: float, *, on: bool) -> None:
        """Show nothing from the next moment on that may have a frame, or the pattern again from its next."""
        self._frames.settle()
        self.player.dark = on
        if on:
            self._frames.clock.hasten_to(now_s)

    def tick(self, now_s: float) -> None:
        """Send what is due at `now_s`."""
        if now_s >= self._end_s:
            self.end("time is up", now_s)
        self.complaints.tick(now_s)
        self._outbound.tick(now_s)
        self._farewells.tick(now_s)
        if self.ending_reason:
            return
        self._frames.tick(now_s, self._end_s, is_alone=self._farewells.are_over)
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
        return self._frames.depart(wait, until_s)

    @property
    def _end_s(self) -> float:
        return self.began_s + (float("inf") if self.setup.seconds is None else self.setup.seconds)

    @property
    def next_frame_s(self) -> float:
        """The moment before which another run's frames would crowd this one's (E1.31-2018 clause 6.6.1)."""
        return self._frames.clock.deadline_s

    @property
    def wake_s(self) -> float:
        """The moment at which something is due next."""
        return min(self.attention_s, self.pieces_s)

    @property
    def pieces_s(self) -> float:
        """The moment at which something goes that only waits for it."""
        return min(self._outbound.wake_s, self._frames.next_s)

    @property
    def attention_s(self) -> float:
        """The moment at which `tick` has something to do."""
        moments = [self._farewells.wake_s]
        if not self.ending_reason:
            moments += [
                self._frames.attention_s,
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
    def tally(self) -> Tally:
        """What has happened so far."""
        return self._frames.tally

    @property
    def frames_ahead(self) -> int:
        """How many frames may be made ahead at the most."""
        return self._frames.most_ahead

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
