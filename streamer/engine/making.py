"""How frames are made ahead: which way, how many at a time, and when none are."""

from collections.abc import Sequence
from itertools import takewhile

from streamer.engine.ahead_in_short import FramesInShort
from streamer.engine.ahead_whole import WholeFrames
from streamer.engine.clock import FrameClock
from streamer.engine.difference import MANY_NODES
from streamer.engine.messages import Show
from streamer.engine.outbound import Outbound
from streamer.engine.pacing import SPREAD_ABOVE_PACKETS
from streamer.engine.ready import Made
from streamer.engine.showing import Showing
from streamer.engine.stage import Stage

FRAMES = 80
"""At 40 a second: 2 s. What is asked for meanwhile costs making them again. For ten universes, 32 would take
twice as long each: most of it is code that is not in the cache."""
SPAN_S = 2.0
"""At a few frames a second: with the next ones, a lost cable and another adapter are noticed."""
PACKETS_MOST = 800
"""In all of them, where they are made whole."""
FIRST_FRAMES = 8
MAKING_S = 0.008
"""How long making them may take, of the 25 ms until the next is due, or of the 15 ms since the last piece has
gone: next time, fewer are made or more. With fuses to be reckoned, a frame takes ten times as long; and the
first time, twice as long."""
GROWTH_MOST = 4
"""By so many times at once: of a few frames, most of the time is what any number would take."""
BATCHES_MOST = 4
"""A sender keeps what it has worked out for 512 matrices of packets: one for each batch of each frame."""
PAUSE_S = 1.0
"""How long none are made after one that flashed too often, drew too much or is not known in short: the next
would be so as well."""


class Making:
    """Makes frames of a stage; it learns from how long that takes."""

    def __init__(self, stage: Stage, outbound: Outbound, showing: Showing) -> None:
        self._stage, self._outbound, self._showing = stage, outbound, showing
        self._not_before_s = float("-inf")
        self._show: Show | None = None
        """What was shown when frames were made last."""
        self._is_choppy = False
        """Whether of that, fewer frames than were wanted could be made in short."""
        self._frames = FIRST_FRAMES
        """How many are to be made at a time."""
        self._whole: WholeFrames | None = None
        self._in_short: FramesInShort | None = None

    @property
    def most_whole(self) -> int:
        """How many frames may be ready whole at a time."""
        streams, batches = len(self._stage.streams.keys), len(self._stage.streams.batches)
        # More than that go in pieces.
        if not streams or streams > SPREAD_ABOVE_PACKETS or batches > BATCHES_MOST:
            return 0
        return min(FRAMES, PACKETS_MOST // streams)

    @property
    def _is_in_short(self) -> bool:
        """Whether frames are made in short: of many nodes, unless whole ones do better and can be had."""
        is_known = self._stage.nodes_in_all >= MANY_NODES and self._stage.is_in_short
        return is_known and not (self._is_choppy and self.most_whole > 0)

    def is_possible(self, now_s: float) -> bool:
        """Whether frames of this stage, as it is at `now_s`, may be made ahead."""
        stage, batches = self._stage, self._stage.streams.batches
        return (
            now_s >= self._not_before_s
            and self._outbound.is_at_once
            and not stage.player.bursts
            and not stage.limiter.is_dimming
            and len(batches) > 0
            and (self.most_whole > 0 or self._is_in_short)
            and not any(batch.is_held for batch in batches)
        )

    def moments(self, clock: FrameClock, until_s: float) -> list[float]:
        """Return the next moments for which frames are to be made; none at `until_s` or later."""
        stage = self._stage
        if stage.player.show is not self._show:
            # At another level, fuses may have to be reckoned.
            self._show, self._frames = stage.player.show, min(self._frames, FIRST_FRAMES)
            self._is_choppy = False
        most = min(self._frames, FRAMES if self._is_in_short else self.most_whole)
        last_s = min(until_s, clock.deadline_s + SPAN_S)
        moments_s = list(takewhile(last_s.__gt__, map(clock.moment_s, range(most))))
        return moments_s if moments_s and stage.streams.wake_s >= moments_s[0] else []

    def make(self, moments_s: Sequence[float], clock: FrameClock) -> Made | None:
        """Return the frames of these moments, up to the first that cannot be had; None if there is none."""
        is_in_short = self._is_in_short
        made = self._in_short_or_whole(moments_s, clock, is_in_short=is_in_short)
        frames = made.foreseen if made else 0
        if frames < len(moments_s):
            self._is_choppy |= is_in_short
            self._not_before_s = moments_s[frames] + PAUSE_S
        return made

    def _in_short_or_whole(
        self, moments_s: Sequence[float], clock: FrameClock, *, is_in_short: bool
    ) -> Made | None:
        stage, outbound, showing = self._stage, self._outbound, self._showing
        if is_in_short:
            self._in_short = self._in_short or FramesInShort(stage, outbound.sender, showing, outbound.cut)
            return self._in_short.make(moments_s, clock.latest_s, clock.period_s)
        self._whole = self._whole or WholeFrames(stage, outbound.sender, showing, self.most_whole)
        return self._whole.make(moments_s, clock.latest_s)

    def learn(self, frames: int, took_s: float) -> None:
        """Take note of how long making so many frames has taken."""
        if frames:
            of_one_s = max(took_s, 0.0) / frames
            more = int(MAKING_S / of_one_s) if of_one_s else FRAMES
            self._frames = max(1, min(more, GROWTH_MOST * self._frames, FRAMES))
