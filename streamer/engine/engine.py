"""The engine's heart: on each tick, what is due goes out. No process, no clock, no clients.

It holds one run at a time: the player, the batches with their cadences, universe discovery, and the
farewells of streams that leave.
"""

from collections.abc import Sequence
from uuid import UUID

import numpy as np

from patterns.plain import Frame
from patterns.registry import get
from streamer.display.model import Display, Protocol
from streamer.display.neighbours import neighbours
from streamer.display.patch import StreamKey, compile_patch
from streamer.display.slots import Indices
from streamer.engine.batch import Batch, lay_out_batches
from streamer.engine.cadence import Cadence
from streamer.engine.clock import FrameClock, LatenessCounter
from streamer.engine.farewell import Farewell
from streamer.engine.messages import Counts, Lateness, Setup, Show, State
from streamer.engine.outlet import Outlet
from streamer.engine.player import Player
from streamer.wire import e131


class Run:
    """One run from its first packet to its last."""

    def __init__(
        self,
        setup: Setup,
        show: Show,
        outlet: Outlet,
        cid: UUID,
        now_s: float,
        before: "Run | None" = None,
    ) -> None:
        self.setup = setup
        self.show = show
        self.began_s = now_s
        self.ending_reason = ""
        self.lateness = LatenessCounter()
        self._outlet = outlet
        self._cid = cid
        self._clock = FrameClock(show.rate_hz, now_s)
        self._frames = self._late = self._skipped = self._held_before = 0
        self._sequences = before.sequences() if before else {}
        self._batches: list[tuple[Batch, Cadence]] = []
        self._farewells: list[Farewell] = []
        self._discovery_s = now_s
        self.newest: Frame | None = None
        self._stage(setup.display, show, now_s)
        if before and before.setup.display == setup.display:
            self._player.guard.go_on_from(before.player.guard, before.planned, self.planned)

    def _stage(self, display: Display, show: Show, now_s: float) -> None:
        """Lay out the streams for what is to be shown; those that go on keep counting."""
        self._with_neighbours = get(show.pattern).neighbours
        patch = compile_patch(neighbours(display) if self._with_neighbours else display)
        self._player = Player(patch.layout, show, now_s)
        self._channels = len(patch.layout.channel_roles)
        self.planned = ~patch.layout.is_neighbour[patch.layout.string_of_node]
        self._retire(frozenset(stream.key for stream in patch.streams), now_s)
        self._batches = []
        for batch in lay_out_batches(patch, self._cid, self.setup.source_name):
            batch.resume(self._sequences)
            self._batches.append((batch, Cadence(len(batch.keys), every_frame=self.setup.every_frame)))

    def _retire(self, going_on: frozenset[StreamKey], now_s: float) -> None:
        """Remember where the streams' counters stand, and begin the farewell of those that leave."""
        for batch, _ in self._batches:
            self._sequences |= batch.sequences()
            leaving = np.flatnonzero([key not in going_on for key in batch.keys])
            if len(leaving):
                self._farewells.append(Farewell(batch, leaving, now_s))

    def change(self, show: Show, now_s: float) -> None:
        """Show something else from the next frame on, without a gap."""
        if get(show.pattern).neighbours != self._with_neighbours:
            before, planned = self._player, self.planned
            self._stage(self.setup.display, show, now_s)
            self._held_before += before.guard.held
            self._player.dark = before.dark
            self._player.guard.go_on_from(before.guard, planned, self.planned)
        else:
            self._player.change(show)
        if show.rate_hz != self.show.rate_hz:
            self._clock.change_rate(show.rate_hz)
        self.show = show

    @property
    def player(self) -> Player:
        """What is being shown."""
        return self._player

    def end(self, reason: str, now_s: float, going_on: frozenset[StreamKey] = frozenset()) -> None:
        """Begin to end: dark, then terminated. Asking twice changes nothing.

        Streams in `going_on` are another run's from now on: they are neither darkened nor terminated.
        """
        if self.ending_reason:
            return
        self.ending_reason = reason
        self._retire(going_on, now_s)
        self._batches = []

    def sequences(self) -> dict[StreamKey, int]:
        """Return the last sequence number of every stream that this run has sent."""
        return self._sequences | {
            key: number for batch, _ in self._batches for key, number in batch.sequences().items()
        }

    @property
    def is_over(self) -> bool:
        """Whether the last packet has been sent."""
        return bool(self.ending_reason) and not self._farewells

    def tick(self, now_s: float) -> None:
        """Send what is due at `now_s`."""
        if self.setup.seconds is not None and now_s - self.began_s >= self.setup.seconds:
            self.end("time is up", now_s)
        for farewell in self._farewells:
            farewell.tick(self._outlet.data, now_s)
        self._farewells = [farewell for farewell in self._farewells if not farewell.is_over]
        if self.ending_reason:
            return
        if now_s >= self._clock.deadline_s:
            self._send_frame(now_s)
        else:
            for batch, cadence in self._batches:
                self._send(batch, cadence.between_frames(now_s))
        self._announce(now_s)

    def _send_frame(self, now_s: float) -> None:
        arrival = self._clock.arrive(now_s)
        self.lateness.add(arrival.lateness_s)
        self._frames += 1
        self._late += arrival.is_late
        self._skipped += arrival.skipped
        frame = self._player.frame(now_s)
        for batch, cadence in self._batches:
            self._send(batch, cadence.at_frame(batch.write(frame), now_s))
        self.newest = Frame(frame.nodes[self.planned], frame.channels)

    def _send(self, batch: Batch, rows: Indices) -> None:
        if len(rows):
            batch.number(rows)
            self._outlet.data.send(batch.packets, rows, batch.destinations)

    def _announce(self, now_s: float) -> None:
        """Send universe discovery when it is due: every page, once in 10 s (E1.31-2018 clause 4.3)."""
        if now_s < self._discovery_s:
            return
        self._discovery_s += e131.DISCOVERY_INTERVAL_S
        universes = sorted({key.universe for key in self.keys() if key.protocol is Protocol.E131})
        destination = (e131.multicast_group(e131.DISCOVERY_UNIVERSE), e131.PORT)
        for page in e131.discovery_pages(self._cid, self.setup.source_name, universes):
            for sender in self._outlet.discovery:
                sender.send_one(page.encode(), destination)

    def keys(self) -> Sequence[StreamKey]:
        return [key for batch, _ in self._batches for key in batch.keys]

    @property
    def wake_s(self) -> float:
        """The moment at which something is due next."""
        moments = [farewell.wake_s for farewell in self._farewells]
        if not self.ending_reason:
            moments += [self._clock.deadline_s, self._discovery_s]
            moments += [cadence.wake_s for _, cadence in self._batches]
            if self.setup.seconds is not None:
                moments.append(self.began_s + self.setup.seconds)
        return min(moments, default=self.began_s)

    @property
    def channels(self) -> int:
        """How many fixture channels a frame has."""
        return self._channels

    @property
    def state(self) -> State:
        """What a person is told that it does."""
        return State.ENDING if self.ending_reason else self._player.state

    @property
    def universes(self) -> int:
        """How many streams go out."""
        return len(self.keys())

    @property
    def route(self) -> str:
        """Which interface the packets leave by."""
        return self._outlet.words

    @property
    def last_error(self) -> str:
        """What the operating system refused last, and what to do."""
        return self._outlet.data.last_error or ""

    def counts(self) -> Counts:
        """Return what has happened so far."""
        sent = self._outlet.data.counters
        return Counts(
            frames=self._frames,
            late=self._late,
            skipped=self._skipped,
            held=self._held_before + self._player.guard.held,
            packets=sent.packets,
            octets=sent.octets,
            errors=dict(sent.errors),
        )

    def lateness_summary(self) -> Lateness:
        """Return the frames' lateness so far."""
        return self.lateness.summary()

    def close(self) -> None:
        """Close the sockets."""
        self._outlet.close()
