"""The stream itself: an engine in a process of its own, started, followed, and started anew."""

import contextlib
import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import accumulate

from streamer.engine.client import EngineLink
from streamer.engine.messages import (
    Change,
    Counts,
    Ended,
    LatenessBin,
    Plan,
    Play,
    Refused,
    Report,
    Setup,
    Show,
    State,
    Status,
    Stop,
)
from streamer.engine.messages import Lateness as LatenessTold
from streamer.engine.waiting import reports, wait_for
from streamer.errors import LinkError, RopewalkError
from streamer.net.complaints import OTHERWISE, SENTENCES
from streamer.soak.findings import Finding, Quiet
from streamer.soak.records import EventKind, Lateness, Sample, Severity

SILENT_S = 3.0
"""The engine tells its state five times a second: after this it stands still."""
FIRST_TURNS, FIRST_TURN_S = 20, 0.5
"""How long a display may take to be laid out: ten seconds."""
AGAIN_S = 1.0
"""Between two attempts to start an engine."""
ERROR_HOLD_S = 3.0
"""A picture that stands still is sent once in 0.9 s: what is not refused for longer is over."""
END_LIMIT_S = 5.0
NOBODY_LISTENS = "ECONNREFUSED"
"""The packet has left, and reached the host: no program listens there."""
PASSING = frozenset({"ENOBUFS", "EAGAIN", NOBODY_LISTENS})
"""What need not spoil a night by itself."""
STOPPED = "stopped"
"""The engine's reason when a client has asked for the end."""
IN_HAND = {
    State.IN_HAND: "the pattern is held in hand from outside: the programme waits",
    State.DARK: "somebody has made all lights dark from outside",
}
US_PER_MS = 1000
SHARES = (0.50, 0.99, 0.999)
DIMMED_TOLD_MOST = 64

StartEngine = Callable[[], EngineLink]


@dataclass(slots=True)
class _Since:
    """What has happened since the last sample."""

    frames: int = 0
    late: int = 0
    skipped: int = 0
    failed: int = 0
    packets: int = 0
    errors: Counter[str] = field(default_factory=Counter)
    bins: Counter[float] = field(default_factory=Counter)
    """Frames, by the upper edge of how late they were, in microseconds."""
    max_us: float = 0


class Stream(Quiet):
    """Keeps an engine playing what is asked, and counts what it says.

    NetworkError, PlanError or LinkError out of `begin` when it cannot be had at all; after that it is tried
    again for as long as it takes.
    """

    name = "the stream"

    def __init__(self, setup: Setup, start: StartEngine) -> None:
        self._setup = setup
        self._start = start
        self._link: EngineLink | None = None
        self._show: Show | None = None
        self._heard_s = -math.inf
        self._looked_s = self._tried_s = -math.inf
        self._stopped = ""
        """Why nothing is sent, in words; empty while something is."""
        self._counts, self._lateness = Counts(), LatenessTold()
        self._since = _Since()
        self._recent: Counter[str] = Counter()
        """Refusals that `findings` has not told."""
        self._dimmed: set[str] = set()
        self._news: list[Finding] = []
        self.stopped_by = ""
        """Who has stopped it by hand, as `ropewalk stop` does; a person's word ends the run."""
        self.cid = self.frame_path = self.route = self.scheduling = ""
        self.frames = 0
        """Sent since the run began, in all engines."""
        self.status: Status | None = None
        """The newest."""

    def begin(self, show: Show, now_s: float) -> None:
        """Start the engine and play, and return when it does; or raise what stands against it."""
        self._show = show
        self._launch(now_s)
        try:
            self._wait_for_the_first(now_s)
        except BaseException:
            self.end()
            raise

    def _wait_for_the_first(self, now_s: float) -> None:
        for _ in range(FIRST_TURNS):
            for report in reports(self._engine, FIRST_TURN_S):
                if isinstance(report, Refused):
                    raise LinkError(report.reason)
                self._take(report, now_s)
            if self.status is not None:
                return
        raise LinkError(f"The engine did not begin within {FIRST_TURNS * FIRST_TURN_S:g} s.")

    @property
    def _engine(self) -> EngineLink:
        if self._link is None:
            raise LinkError("The engine has ended before it began.")
        return self._link

    def show(self, show: Show) -> None:
        """Show something else from the next frame on."""
        if show != self._show:
            self._show = show
            if self._link is not None:
                self._link.send(Change(show=show))

    def look(self, now_s: float) -> None:
        """Take in what the engine has said; start another when it has gone."""
        if now_s - self._looked_s > SILENT_S:
            # Nobody has listened: that it was not heard is no silence of its own.
            self._heard_s = now_s
        self._looked_s = now_s
        if self._link is None:
            if not self.stopped_by and now_s - self._tried_s >= AGAIN_S:
                self._relaunch(now_s)
            return
        try:
            self._link.flush()
            for report in self._link.receive():
                self._take(report, now_s)
        except LinkError as error:
            self._lose(str(error))
        if self._link is not None and not self._link.is_open:
            self._lose("its process has gone without a word")
        elif self._link is not None and now_s - self._heard_s > SILENT_S:
            self._stopped = "its process stands still"

    def findings(self) -> Sequence[Finding]:
        """Return what keeps the stream, and each error by which packets were refused since this was asked."""
        recent, self._recent = self._recent, Counter()
        found = [self._refusal(name) for name in recent]
        if self._stopped:
            words = f"{self._stopped}; lights that were lit went dark or kept their last look"
            found.append(Finding(EventKind.STREAM_STOPPED, "", words))
        elif self.status and self.status.state in IN_HAND:
            found.append(Finding(EventKind.NOTE, "by hand", IN_HAND[self.status.state], Severity.REMARK))
        return found

    def news(self) -> Iterable[Finding]:
        """Return which supplies and fuses were found to hold the light down."""
        news, self._news = self._news, []
        return news

    def add_to(self, sample: Sample) -> Sample:
        """Return the sample with what was sent since the last one."""
        since, self._since = self._since, _Since()
        return replace(
            sample,
            frames_sent=since.frames,
            frames_late=since.late,
            frames_skipped=since.skipped,
            frames_failed=since.failed,
            packets=since.packets,
            errors=dict(since.errors),
            lateness=_percentiles(since),
        )

    def filenos(self) -> Sequence[int]:
        """Return the engine's socket."""
        return () if self._link is None else (self._link.fileno(),)

    def end(self) -> None:
        """Have the lights go dark and the streams terminated, and let go of the engine."""
        link, self._link = self._link, None
        if link is None:
            return
        try:
            with contextlib.suppress(LinkError):
                link.send(Stop())
                ended = wait_for(link, Ended, END_LIMIT_S)
                self._count(ended.counts, ended.lateness)
        finally:
            link.close()

    def close(self) -> None:
        """End it, if that was not done."""
        self.end()

    def _relaunch(self, now_s: float) -> None:
        try:
            self._launch(now_s)
        except RopewalkError as error:
            self._stopped = f"its process cannot be started: {error}"

    def _launch(self, now_s: float) -> None:
        if self._show is None:
            return
        self._tried_s = now_s
        self._counts, self._lateness = Counts(), LatenessTold()
        self._link = link = self._start()
        self._heard_s = now_s
        link.send(Play(setup=self._setup, show=self._show))

    def _lose(self, why: str) -> None:
        self._stopped = why
        self.frame_path = ""
        if self._link is not None:
            self._link.close()
            self._link = None

    def _take(self, report: Report, now_s: float) -> None:
        self._heard_s = now_s
        match report:
            case Plan():
                self.cid, self.frame_path = report.cid, report.frame_path
            case Status() if report.plan:
                self.status, self.route, self.scheduling = report, report.route, report.scheduling
                self._count(report.counts, report.lateness)
                self._news += self._newly_dimmed(report)
            case Refused():
                # Of a change too: what stands against it stands against all.
                self._lose(report.reason)
            case Ended():
                self._count(report.counts, report.lateness)
                self._lose(f"it has ended: {report.reason}")
                if report.reason == STOPPED:
                    self._stopped = ""
                    self.stopped_by = "from outside, as ropewalk stop does"

    def _count(self, counts: Counts, lateness: LatenessTold) -> None:
        before, since = self._counts, self._since
        frames = counts.frames - before.frames
        errors = Counter(counts.errors) - Counter(before.errors)
        since.frames += frames
        since.late += counts.late - before.late
        since.skipped += counts.skipped - before.skipped
        since.packets += counts.packets - before.packets
        since.errors += errors
        since.failed += min(frames, sum(errors.values()) - errors[NOBODY_LISTENS])
        self._recent += errors
        self.frames += frames
        self._take_lateness(lateness)
        if frames > 0:
            self._stopped = ""
        self._counts, self._lateness = counts, lateness

    def _take_lateness(self, lateness: LatenessTold) -> None:
        before = {each.up_to_us: each.frames for each in self._lateness.bins}
        since = self._since
        for each in lateness.bins:
            frames = each.frames - before.get(each.up_to_us, 0)
            if frames:
                since.bins[_edge_us(each, lateness)] += frames
        if lateness.max_us > self._lateness.max_us:
            since.max_us = max(since.max_us, lateness.max_us)

    def _refusal(self, errno_name: str) -> Finding:
        what, instead = SENTENCES.get(errno_name, ("the system refuses to send", OTHERWISE))
        severity = Severity.REMARK if errno_name in PASSING else Severity.FAILURE
        return Finding(EventKind.SEND_ERROR, errno_name, f"{what}. {instead}", severity, ERROR_HOLD_S)

    def _newly_dimmed(self, status: Status) -> Iterator[Finding]:
        for dimmed in status.dimmed:
            if dimmed.name not in self._dimmed and len(self._dimmed) < DIMMED_TOLD_MOST:
                self._dimmed.add(dimmed.name)
                words = f"held down, as planned, to keep its current under the limit: {dimmed.words}"
                yield Finding(EventKind.NOTE, dimmed.name, words, Severity.NOTICE)


def _edge_us(each: LatenessBin, lateness: LatenessTold) -> float:
    """Return the most that a frame of this bin was late."""
    return lateness.max_us if each.up_to_us is None else min(each.up_to_us, lateness.max_us)


def _percentiles(since: _Since) -> Lateness:
    """Return the percentiles by nearest rank, each as the upper edge of its bin: never less than it was."""
    frames = since.bins.total()
    if not frames:
        return Lateness()
    edges = sorted(since.bins)
    most_us = since.max_us or edges[-1]
    p50_us, p99_us, p999_us = (
        min(_reached(since, edges, math.ceil(share * frames)), most_us) for share in SHARES
    )
    return Lateness(p50_us / US_PER_MS, p99_us / US_PER_MS, p999_us / US_PER_MS, most_us / US_PER_MS)


def _reached(since: _Since, edges: Sequence[float], rank: int) -> float:
    """Return the upper edge of the bin in which the frame of a rank is."""
    reached = accumulate(since.bins[edge] for edge in edges)
    return next(edge for edge, count in zip(edges, reached, strict=True) if count >= rank)
