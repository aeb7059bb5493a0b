"""Stand-ins for what a night run is made of: an engine that answers, watches that find what they are told."""

from collections.abc import Callable, Iterable, Sequence

from pydantic import BaseModel

from streamer.display.model import Protocol
from streamer.display.ranges import display_from_ranges, parse_ranges
from streamer.engine.messages import (
    Counts,
    Ended,
    Lateness,
    LatenessBin,
    Plan,
    Play,
    Report,
    Setup,
    Show,
    State,
    Status,
    Stop,
)
from streamer.soak.findings import Finding, Quiet
from streamer.soak.probes import Answer, Restart
from streamer.soak.records import Event
from tests.tui.fakes import FakeLink

SETUP = Setup(display=display_from_ranges(parse_ranges("1", Protocol.E131), Protocol.E131, ("127.0.0.1",)))


class Engine(FakeLink[Report]):
    """An engine's link that plays as soon as it is asked, and counts what the test lets pass."""

    def __init__(self) -> None:
        super().__init__()
        self.is_waiting = self.is_gone = False
        self.counts = Counts()
        self.lateness = Lateness()

    def send(self, message: BaseModel) -> None:
        """Take a request."""
        super().send(message)
        if isinstance(message, Play):
            plan = Plan(number=1, setup=message.setup, frame_path="", cid="0" * 32)
            self.say(plan, self.status())
        elif isinstance(message, Stop):
            self.say(Ended(reason="stopped", counts=self.counts, lateness=self.lateness, seconds=1))

    def vanish(self) -> None:
        """Be gone without a word."""
        self.is_gone = True
        super().vanish()

    def receive(self) -> list[Report]:
        """Return what was said, if anything was."""
        try:
            return super().receive()
        except BlockingIOError:
            said, self._waiting = self._waiting, []
            return said

    def status(self, state: State = State.RUNNING) -> Status:
        """Return the engine's state."""
        return Status(state=state, plan=1, counts=self.counts, lateness=self.lateness, route="shed0")

    def play(self, frames: int, **errors: int) -> None:
        """Let so many frames pass, and so many packets be refused, and say so."""
        before = self.counts
        every = {name: before.errors.get(name, 0) + errors.get(name, 0) for name in {*before.errors, *errors}}
        self.counts = Counts(frames=before.frames + frames, packets=before.packets + frames, errors=every)
        self.lateness = Lateness(max_us=180.0, bins=(LatenessBin(up_to_us=200.0, frames=self.counts.frames),))
        self.say(self.status())

    @property
    def shows(self) -> list[Show]:
        """What it was asked to show, in order."""
        return [message.show for message in self.asked if hasattr(message, "show")]


class Told(Quiet):
    """A watch that finds what the test says."""

    name = "what is told"

    def __init__(self) -> None:
        self.found: list[Finding] = []
        self.happened: list[Finding] = []
        self.error: Exception | None = None
        self.looks = 0

    def look(self, now_s: float) -> None:  # noqa: ARG002  a watch's signature
        """Fail if that is asked."""
        self.looks += 1
        if self.error:
            raise self.error

    def findings(self) -> Sequence[Finding]:
        """Return what is wrong."""
        return self.found

    def news(self) -> Iterable[Finding]:
        """Return what has happened."""
        news, self.happened = self.happened, []
        return news


class Probed:
    """A probe whose controllers answer as the test says."""

    def __init__(self, addresses: Sequence[str], each_s: float) -> None:
        self.addresses = tuple(addresses)
        self.there = set(addresses)
        self.again: list[Restart] = []
        self.reports: dict[str, str] = {}
        self.closed = 0
        self.loses: Callable[[], bool] = lambda: False
        """Says of one answer after another whether it is lost on its way."""
        self._each_s = each_s
        self._next_s = 0.0
        self._waiting: list[Answer] = []

    def ask(self, now_s: float) -> Sequence[str]:
        """Ask all in turn."""
        if now_s < self._next_s:
            return ()
        self._next_s = now_s + self._each_s
        answering = [each for each in self.addresses if each in self.there]
        self._waiting += [Answer(each, 0.002) for each in answering if not self.loses()]
        return self.addresses

    def answers(self, now_s: float) -> Sequence[Answer]:  # noqa: ARG002  a probe's signature
        """Return what has come."""
        waiting, self._waiting = self._waiting, []
        return waiting

    def restarts(self, now_s: float) -> Sequence[Restart]:  # noqa: ARG002  a probe's signature
        """Return what was noticed."""
        again, self.again = self.again, []
        return again

    def complaints(self, now_s: float) -> Iterable[tuple[str, str]]:  # noqa: ARG002  a probe's signature
        """Return what is reported."""
        return self.reports.items()

    def filenos(self) -> Sequence[int]:
        """Return none."""
        return ()

    def close(self) -> None:
        """Count it."""
        self.closed += 1


class Listening:
    """Who is told what happens; keeps it."""

    def __init__(self) -> None:
        self.begun: list[Event] = []
        self.ended: list[Event] = []
        self.troubles: list[str] = []

    def event(self, event: Event) -> None:
        """Keep it."""
        self.begun.append(event)

    def over(self, event: Event) -> None:
        """Keep it."""
        self.ended.append(event)

    def trouble(self, sentence: str) -> None:
        """Keep it."""
        self.troubles.append(sentence)
