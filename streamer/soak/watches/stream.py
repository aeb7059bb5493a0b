"""The stream itself: an engine in a process of its own, started, followed, and started anew."""

import contextlib
import math
from collections.abc import Callable, Iterable, Sequence

from pydantic import BaseModel

from streamer.engine.client import EngineLink
from streamer.engine.messages import (
    Change,
    Counts,
    Ended,
    Lateness,
    Plan,
    Refusal,
    Refused,
    Report,
    Setup,
    Show,
    Status,
    Stop,
)
from streamer.engine.waiting import reports, wait_for
from streamer.errors import LinkError, RopewalkError
from streamer.soak.findings import Finding, Quiet
from streamer.soak.records import EventKind, Sample
from streamer.soak.watches.dimmed import Dimmed
from streamer.soak.watches.gaps import DARK_OR_HELD, STOP_S, Gap, Gaps
from streamer.soak.watches.hands import WHILE_ON, Hands
from streamer.soak.watches.refused import Refused as Refusals
from streamer.soak.watches.sent import Sent

FIRST_TURNS, FIRST_TURN_S = 20, 0.5
"""How long a display may take to be laid out: ten seconds."""
AGAIN_S = 1.0
"""Between two attempts to start an engine."""
END_LIMIT_S = 5.0
STOPPED = "stopped"
"""The engine's reason when a client has asked for the end."""
STILL = "its process stands still"

StartEngine = Callable[[], EngineLink]


class Stream(Quiet):
    """Keeps an engine playing what is asked, and counts what it says.

    NetworkError, PlanError or LinkError out of `begin` when it cannot be had at all; after that it is tried
    again for as long as it takes. `darkened_by`: who had made it dark by hand before; it begins in the dark.
    """

    name = "the stream"

    def __init__(self, setup: Setup, start: StartEngine, darkened_by: str = "") -> None:
        self._setup = setup
        self._start = start
        self._link: EngineLink | None = None
        self._show: Show | None = None
        self._heard_s = -math.inf
        self._tried_s = -math.inf
        self._stopped = ""
        """Why nothing is sent, in words; empty while something is."""
        self._stopped_ago_s = 0.0
        """How long before that was found it had begun."""
        self._gaps = Gaps()
        self._sent = Sent()
        self._refusals = Refusals()
        self._hands = Hands(darkened_by)
        self._dimmed = Dimmed()
        self._news: list[Finding] = []
        self.stopped_by = ""
        """Who has stopped it by hand, as `ropewalk stop` does; a person's word ends the run."""
        self.cid = self.frame_path = self.route = self.scheduling = ""
        self.status: Status | None = None
        """The newest."""

    @property
    def frames(self) -> int:
        """Sent since the run began, by all engines."""
        return self._sent.frames

    def begin(self, show: Show, now_s: float) -> None:
        """Start the engine and play, and return when it does; or raise what stands against it."""
        self._show = show
        self._launch(now_s)
        try:
            self._wait_for_the_first(now_s)
        except BaseException:
            self.end()
            raise
        # How long it took to begin is no silence: that counts from the first look on.
        self._heard_s = math.inf

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
            if self._link is not None and not self._hands.are_on:
                self._link.send(Change(show=show))

    def look(self, now_s: float) -> None:
        """Take in what the engine has said; start another when it has gone."""
        if self._link is None:
            if not self.stopped_by and now_s - self._tried_s >= AGAIN_S:
                self._relaunch(now_s)
            return
        self._heard_s = min(self._heard_s, now_s)
        before_s, frames, was_stopped = self._heard_s, self.frames, bool(self._stopped)
        try:
            self._link.flush()
            for report in self._link.receive():
                self._take(report, now_s)
        except LinkError as error:
            self._lose(str(error))
        if self._link is not None and not self._link.is_open:
            self._lose("its process has gone without a word")
        if not was_stopped and now_s - before_s >= STOP_S:
            self._find(Gap(before_s, frames, now_s))
        stop = self._gaps.judge(now_s, self.frames, self._show.rate_hz) if self._show else None
        self._news += [stop] if stop else []

    def _find(self, gap: Gap) -> None:
        """Tell an engine that stands still from one that may have gone on while this process was held."""
        if self._link is not None and self._heard_s < gap.found_s:
            self._stopped, self._stopped_ago_s = STILL, gap.found_s - gap.since_s
        elif self._link is not None:
            self._gaps.find(gap)

    def findings(self) -> Sequence[Finding]:
        """Return what keeps the stream, and each error by which packets were refused since this was asked."""
        found = list(self._refusals.findings())
        if self._stopped:
            words = f"{self._stopped}; {DARK_OR_HELD}"
            found.append(Finding(EventKind.STREAM_STOPPED, "", words, ago_s=self._stopped_ago_s))
        found += self._hands.findings()
        return found

    def news(self) -> Iterable[Finding]:
        """Return stops that are over, and which supplies and fuses were found to hold the light down."""
        news, self._news = self._news, []
        return news

    def add_to(self, sample: Sample) -> Sample:
        """Return the sample with what was sent since the last one."""
        return self._sent.add_to(sample)

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
        self._hands.let_go()
        self._sent.begin_anew()
        self._gaps.forget()
        self._link = self._start()
        self._heard_s = now_s
        self._ask(self._hands.begin(self._setup, self._show))

    def _ask(self, requests: Iterable[BaseModel]) -> None:
        for request in requests:
            if self._link is not None:
                self._link.send(request)

    def _lose(self, why: str) -> None:
        self._stopped, self._stopped_ago_s = why, 0.0
        self.frame_path = ""
        if self._link is not None:
            self._link.close()
            self._link = None

    def _take(self, report: Report, now_s: float) -> None:
        self._heard_s = now_s
        match report:
            case Plan():
                self.cid, self.frame_path = report.cid, report.frame_path
                self._hands.is_theirs = report.setup.display != self._setup.display
                # It counts from its own beginning.
                self._sent.begin_anew()
            case Status() if report.plan:
                self.status, self.route, self.scheduling = report, report.route, report.scheduling
                self._count(report.counts, report.lateness)
                self._news += self._dimmed.take(report)
                self._heed_control(report)
            case Refused(why=Refusal.NO_CONTROL) if report.request in WHILE_ON:
                self._hands.are_refused = True
            case Refused(why=Refusal.NOTHING_PLAYS):
                pass  # what ended it is told by itself
            case Refused():
                self._lose(report.reason)
            case Ended():
                self._count(report.counts, report.lateness)
                self._lose(f"it has ended: {report.reason}")
                if report.reason == STOPPED:
                    self._stopped = ""
                    self.stopped_by = "from outside, as ropewalk stop does"

    def _heed_control(self, status: Status) -> None:
        """Wait while somebody else holds control; go on where the programme is by then when they leave."""
        self._hands.heed(status)
        if self._show is not None and self._hands.have_left(status):
            self._ask(self._hands.go_on(self._setup, self._show))
            self._hands.let_go()

    def _count(self, counts: Counts, lateness: Lateness) -> None:
        before = self.frames
        self._refusals.take(self._sent.take(counts, lateness))
        if self.frames > before:
            self._stopped = ""
