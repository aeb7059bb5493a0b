"""A night run, moment by moment: what is shown, watched and written down. Time is an argument."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from streamer.engine.messages import Show
from streamer.errors import JournalError, RopewalkError
from streamer.soak.durations import DAY_S
from streamer.soak.findings import Episodes, Finding, Watch, happened
from streamer.soak.programme import Programme, Standing
from streamer.soak.records import Ended, EndReason, Event, EventKind, Moment, RunClock, Sample, Severity
from streamer.soak.watches.clocks import ClockWatch
from streamer.soak.watches.stream import Stream

SAMPLE_S = 5.0
BLIND_S = 10.0
"""What could not be watched is tried again after this."""


class Pen(Protocol):
    """What a run is written with; JournalError out of any of it, which loses no event."""

    clock: RunClock

    @property
    def open_events(self) -> Sequence[Event]:
        """What has begun and not ended: when a run is taken up, what a person had made dark."""

    def sample(self, sample: Sample) -> None:
        """Write a sample."""

    def note(self, event: Event) -> None:
        """Write an event, open or over."""

    def close(self, kind: EventKind, subject: str, at: Moment, words: str | None = None) -> Event | None:
        """Write the end of an event."""

    def end(self, ended: Ended) -> None:
        """Write the end of the run."""


class Teller(Protocol):
    """Who is told what happens, as it happens."""

    def event(self, event: Event) -> None:
        """Say that something has begun, or happened."""

    def over(self, event: Event) -> None:
        """Say that something that had begun is over."""

    def trouble(self, sentence: str) -> None:
        """Say that the journal cannot be written."""


@dataclass(slots=True)
class Deadline:
    """When a run ends, counted from its beginning."""

    at_run_s: float
    by_the_wall: bool
    """Whether it is a time of day, which moves when the clock is set."""

    def step(self, step_s: float, run_s: float) -> None:
        """Take note that the clock on the wall was set."""
        if not self.by_the_wall:
            return
        left_s = self.at_run_s - step_s - run_s
        # Set by days, as on a machine that forgets the time while it is off: the time of day still holds.
        if not -DAY_S / 2 <= left_s <= DAY_S:
            left_s %= DAY_S
        self.at_run_s = run_s + left_s


class Night:
    """One run from its beginning, or from where it was taken up, to its end."""

    def __init__(  # noqa: PLR0913  what a night is made of
        self,
        *,
        pen: Pen,
        stream: Stream,
        watches: Sequence[Watch],
        programme: Programme,
        show: Callable[[Standing], Show],
        deadline: Deadline,
        teller: Teller,
    ) -> None:
        self.programme = programme
        self.deadline = deadline
        self.episodes = Episodes(pen.open_events)
        self.is_over = False
        self.failures = 0
        """Events that speak against the display."""
        self._pen, self._stream, self._show, self._teller = pen, stream, show, teller
        self._watches: tuple[Watch, ...] = (stream, *watches)
        self._clock = ClockWatch()
        self._blind: dict[str, tuple[float, Finding]] = {}
        self._next_sample_s = 0.0
        self._trouble = ""
        self.at = Moment(0.0, 0.0)
        """The last moment."""

    @property
    def stopped_by(self) -> str:
        """Who has stopped the stream by hand, in words; empty while nobody has."""
        return self._stream.stopped_by

    @property
    def sent(self) -> int:
        """Frames sent since the beginning."""
        return self._stream.frames

    @property
    def left_s(self) -> float:
        """How long it has still to go."""
        return max(0.0, self.deadline.at_run_s - self.at.run_s)

    @property
    def standing(self) -> Standing:
        """What is up."""
        return self.programme.at(self.at.run_s)

    def begin(self, unix_s: float, now_s: float) -> None:
        """Put the first look up; NetworkError, PlanError or LinkError when it cannot be had."""
        self._see(unix_s, now_s)
        self._next_sample_s = now_s + SAMPLE_S
        # What goes while the stream begins (a slow disk makes that seconds) is told from what there was.
        for watch in self._watches[1:]:
            self._look(watch, now_s)
        self._stream.begin(self._show(self.standing), now_s)
        self._note(happened(Finding(EventKind.STARTED, "", self._leaves_by(), Severity.NOTICE), self.at))

    def filenos(self) -> list[int]:
        """Return the descriptors on which something may arrive that should be read soon."""
        return [each for watch in self._watches for each in watch.filenos()]

    def waited(self, asked_s: float, before: tuple[float, float], after: tuple[float, float]) -> None:
        """Take note of a wait: how long it was to take at the most, and both clocks before and after."""
        moment = self._pen.clock.moment
        self._clock.waited(asked_s, moment(*before), moment(*after))

    def tick(self, unix_s: float, now_s: float) -> None:
        """Show, watch and write what is due."""
        self._see(unix_s, now_s)
        if self.at.run_s >= self.deadline.at_run_s:
            self.end(EndReason.TIME_UP, unix_s, now_s)
            return
        self._stream.show(self._show(self.standing))
        for watch in self._watches:
            self._look(watch, now_s)
        self._follow()
        if now_s >= self._next_sample_s:
            # From now on, not in a burst, where a sleep has passed several by.
            self._next_sample_s = max(self._next_sample_s + SAMPLE_S, now_s + SAMPLE_S / 2)
            self._sample()

    def note(self, kind: EventKind, words: str, severity: Severity = Severity.NOTICE) -> None:
        """Write down something that has just happened."""
        self._note(happened(Finding(kind, "", words, severity), self.at))

    def end(self, reason: EndReason, unix_s: float, now_s: float, words: str = "") -> None:
        """Go dark, end the streams, and close the journal's run. Asking twice changes nothing."""
        if self.is_over:
            return
        self.is_over = True
        self._see(unix_s, now_s)
        self._stream.end()
        # The farewell may be refused too.
        self._follow()
        for event in self.episodes.end_all(self.at):
            self._close(event, event.ended_at or self.at)
        self._sample()
        self._write(lambda: self._pen.end(Ended(self.at, reason, words)))

    def close(self) -> None:
        """Let go of everything; the run may be taken up again if it has not ended."""
        for watch in self._watches:
            watch.close()

    def _see(self, unix_s: float, now_s: float) -> None:
        self.at = self._pen.clock.moment(unix_s, now_s)
        step_s = self._clock.compare(self.at)
        if step_s:
            self.deadline.step(step_s, self.at.run_s)

    def _look(self, watch: Watch, now_s: float) -> None:
        blind = self._blind.get(watch.name)
        if blind and now_s - blind[0] < BLIND_S:
            return
        try:
            watch.look(now_s)
        except (RopewalkError, OSError) as error:
            words = f"it cannot be watched: {error}"
            self._blind[watch.name] = now_s, Finding(EventKind.NOTE, watch.name, words, Severity.REMARK)
        else:
            self._blind.pop(watch.name, None)

    def _follow(self) -> None:
        """Write down what has begun, what is over, and what has happened."""
        found = [finding for watch in self._watches for finding in watch.findings()]
        found += [finding for _, finding in self._blind.values()]
        for event in self.episodes.take(found, self.at):
            if event.ended_at is None:
                self._note(event)
            else:
                self._close(event, event.ended_at)
        news = [finding for watch in (self._clock, *self._watches) for finding in watch.news()]
        for finding in news:
            self._note(happened(finding, self.at))

    def _note(self, event: Event) -> None:
        self.failures += event.severity is Severity.FAILURE
        self._write(lambda: self._pen.note(event))
        self._teller.event(event)

    def _close(self, event: Event, ended_at: Moment) -> None:
        self._write(lambda: self._pen.close(event.kind, event.subject, ended_at, event.words))
        self._teller.over(event)

    def _sample(self) -> None:
        sample = Sample(self.at, step=self.standing.index)
        for watch in self._watches:
            sample = watch.add_to(sample)
        self._write(lambda: self._pen.sample(sample))

    def _write(self, write: Callable[[], object]) -> None:
        try:
            write()
        except JournalError as error:
            # The lights matter more: it is said once, and the pen writes of it when it can write again.
            if not self._trouble:
                self._trouble = str(error)
                self._teller.trouble(f"{error}. The lights go on without it")
        else:
            self._trouble = ""

    def _leaves_by(self) -> str:
        return f"leaves by {self._stream.route}; {self._stream.scheduling}"
