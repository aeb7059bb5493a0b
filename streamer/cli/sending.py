"""What `ropewalk send` does with what was asked: one run, from its start to its end."""

import contextlib
import os
import time
from collections.abc import Callable, Iterator

from streamer.cli.common import counted
from streamer.cli.flashes import flashes_text
from streamer.cli.outcome import Outcome, ended_text, status_text
from streamer.cli.real_lights import beyond
from streamer.cli.rivals import check_rivals
from streamer.cli.voice import Voice
from streamer.display.numbering import universe_text
from streamer.engine.client import EngineLink, client_name, start
from streamer.engine.messages import Ended, Plan, Play, Refused, Report, Setup, Show, Status, Stop
from streamer.engine.rivals import streams_of
from streamer.engine.waiting import reports, wait_for
from streamer.errors import LinkError
from streamer.hear.lookout import Lookout

TELL_PERIOD_S = 1.0
LOOK_S = 0.1
END_LIMIT_S = 2.0
LISTED = 12


class Sending:
    """One run. NetworkError when the interface is not there, PlanError when the pattern does not fit."""

    def __init__(self, setup: Setup, show: Show, *, goes_on: bool) -> None:
        self._setup = setup
        self._show = show
        self._goes_on = goes_on
        self._streams = streams_of(setup.display, show.pattern)
        self._beyond = beyond((stream.key.address for stream in self._streams), setup.interface)
        self._name = f"send-{os.getpid()}"
        self._route = self._synchronization = ""

    def check_rivals(self) -> None:
        """Raise RivalError when another run sends to the same place."""
        check_rivals(self._setup, self._show.pattern)

    def run(self, voice: Voice, is_asked_to_end: Callable[[], bool]) -> Outcome:
        """Play until the time is up or the end is asked for; LinkError when the engine refuses or is gone."""
        for line in self._summary():
            voice.tell(line)
        for caution in self._cautions():
            voice.warn(caution)
        began_s = time.monotonic()
        with contextlib.closing(Lookout(client_name("ropewalk send"), f"beside-{os.getpid()}")) as lookout:
            lookout.send(self._streams, self._setup.interface)
            ended = self._attended(lookout, voice, is_asked_to_end)
            conflicts = tuple(each.as_dict(began_s) for each in lookout.episodes)
            trouble = lookout.trouble
        goes_on = f"It goes on as {self._name}. To end it: ropewalk stop {self._name}"
        voice.tell(ended_text(ended) if ended else goes_on)
        leaves = self._route, self._synchronization
        return Outcome(self._name, self._setup, self._show, self._streams, *leaves, ended, conflicts, trouble)

    def _attended(self, lookout: Lookout, voice: Voice, is_asked_to_end: Callable[[], bool]) -> Ended | None:
        link = start(self._name, client_name("ropewalk send"))
        try:
            return self._play(link, lookout, voice, is_asked_to_end)
        except BaseException:
            _end(link)
            raise
        finally:
            link.close()

    def _play(
        self, link: EngineLink, lookout: Lookout, voice: Voice, is_asked_to_end: Callable[[], bool]
    ) -> Ended | None:
        if is_asked_to_end():
            raise LinkError("Stopped before anything was sent.")
        link.send(Play(setup=self._setup, show=self._show))
        return self._follow(link, lookout, voice, is_asked_to_end)

    def _follow(
        self, link: EngineLink, lookout: Lookout, voice: Voice, is_asked_to_end: Callable[[], bool]
    ) -> Ended | None:
        told_s, is_ending = time.monotonic(), False
        while True:
            for report in _reports(link, lookout, voice):
                if isinstance(report, Ended):
                    return report
                if isinstance(report, Refused):
                    raise LinkError(report.reason)
                if isinstance(report, Status) and report.plan:
                    self._tell_route(report, voice)
                    if self._goes_on:
                        return None
                    if (now_s := time.monotonic()) - told_s >= TELL_PERIOD_S:
                        told_s = last_tick_s(told_s, now_s)
                        voice.tell_moment(status_text(report))
            if is_asked_to_end() and not is_ending:
                is_ending = True
                link.send(Stop())

    def _tell_route(self, status: Status, voice: Voice) -> None:
        if not self._route:
            self._route = status.route
            self._synchronization = status.synchronization
            voice.tell(f"Leaves by {status.route}.")
            if self._synchronization:
                gap = f"{self._setup.sync_gap_ms:g} ms after a frame's last packet"
                voice.tell(f"Synchronized {gap}: {self._synchronization}.")

    def _summary(self) -> Iterator[str]:
        universes = counted(len(self._streams), "universe")
        yield f"{self._show.pattern} at {self._show.level_percent:g} % on {universes}:"
        for stream in self._streams[:LISTED]:
            yield f"  {universe_text(stream.key.protocol, stream.key.universe)} to {stream.key.address}"
        if len(self._streams) > LISTED:
            yield f"  and {len(self._streams) - LISTED} more"

    def _cautions(self) -> Iterator[str]:
        if self._beyond:
            listed = ", ".join(self._beyond[:LISTED]) + (", ..." if len(self._beyond) > LISTED else "")
            yield (
                f"Caution: this leaves this machine, for {listed}. Real lights change: "
                "nobody on a ladder or at the wiring should be surprised."
            )
        if flashes := flashes_text(self._setup):
            yield flashes
        planned = len(streams_of(self._setup.display, pattern="level"))
        if len(self._streams) > planned:
            yield f"{self._show.pattern} also lights {len(self._streams) - planned} universes next to yours."


def last_tick_s(first_s: float, now_s: float) -> float:
    """Return the last of the even steps since `first_s`: who stood still tells one line, not one for each."""
    return now_s - (now_s - first_s) % TELL_PERIOD_S


def _reports(link: EngineLink, lookout: Lookout, voice: Voice) -> Iterator[Report]:
    """Yield what the engine has said meanwhile, and warn of other sources."""
    for sentence in lookout.look(time.monotonic()):
        voice.warn(sentence)
    for report in reports(link, LOOK_S):
        if isinstance(report, Plan):
            lookout.know(report.cid)
        yield report


def _end(link: EngineLink) -> None:
    """Whatever broke off the command, the lights go dark and the streams end before it leaves."""
    with contextlib.suppress(LinkError):
        link.send(Stop())
        wait_for(link, Ended, END_LIMIT_S)
