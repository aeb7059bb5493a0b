"""How a night run stands, as its journal tells it to somebody who looks on. Time is an argument."""

from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from pathlib import Path

from streamer.errors import PlanError
from streamer.soak.durations import in_words
from streamer.soak.journal import journal_path, reading
from streamer.soak.night import SAMPLE_S
from streamer.soak.programme import parse_programme
from streamer.soak.records import Event, EventKind, RunRecord, Severity

GONE_S = 1.5 * SAMPLE_S
"""A run that has written nothing for longer, and whose process is gone, was broken off."""
STALE_S = 4 * SAMPLE_S
"""A process that lives writes within this, unless something keeps it from that."""
FILLED, EMPTY = "#", "."
PERCENT = 100
LISTED = 5


@dataclass(frozen=True, slots=True)
class Seen:
    """The last run of a display file."""

    run: RunRecord
    events: tuple[Event, ...]
    now_unix_s: float
    process: int = 0
    """That writes it; 0 where none is known to live."""

    @property
    def is_running(self) -> bool:
        """Whether it writes."""
        return self.run.ended is None and not self.is_broken_off

    @property
    def is_broken_off(self) -> bool:
        """Whether it stopped without a word."""
        return self.run.ended is None and not self.process and self.silent_s > GONE_S

    @property
    def silent_s(self) -> float:
        """How long nothing has been written; the clock on the wall may have been set back."""
        return max(0.0, self.now_unix_s - self.run.last_at.unix_s)

    @property
    def passed_s(self) -> float:
        """How much of its time has passed: of one that has not ended, by now."""
        return self.run.last_at.run_s + (0.0 if self.run.ended else self.silent_s)

    @property
    def left_s(self) -> float:
        """How long it has still to go: of one that was broken off, if it went on now."""
        return max(0.0, self.run.facts.asked_s - self.passed_s)

    @property
    def may_go_on(self) -> bool:
        """Whether it was broken off, and its time is not over."""
        return self.is_broken_off and self.left_s > 0

    @property
    def share(self) -> float:
        """How much of its time has passed, from 0 to 1."""
        return min(1.0, self.passed_s / max(1.0, self.run.facts.asked_s))

    @property
    def open(self) -> tuple[Event, ...]:
        """What is wrong just now."""
        return tuple(event for event in self.events if event.ended_at is None) if self.is_running else ()

    def count(self, severity: Severity) -> int:
        """Return how many events of a severity there were."""
        return sum(event.severity is severity for event in self.events)

    def lines(self, columns: int) -> tuple[str, ...]:
        """Return it in words, the bar first while it has not ended, which is no longer than `columns`."""
        bar = () if self.run.ended else (self._bar(columns),)
        return (*bar, *self._showing(), self._now(), *self._wrong(), *self._gap(), self._so_far())

    def _bar(self, columns: int) -> str:
        text = f" {self.share * PERCENT:.0f} %, {in_words(float(round(self.left_s)))} left"
        width = max(4, min(30, columns - len(text) - 2))
        filled = int(self.share * width)
        return f"[{FILLED * filled}{EMPTY * (width - filled)}]{text}"

    def _showing(self) -> tuple[str, ...]:
        if not self.is_running:
            return ()
        last = self.run.last_at
        try:
            programme = parse_programme(self.run.facts.programme, "the journal")
        except PlanError:
            # Another version's: what it shows is not known here.
            return ()
        standing = programme.at(last.run_s + self.now_unix_s - last.unix_s)
        left = in_words(float(max(1, round(standing.left_s))))
        return (f"Showing {standing.part.name} for {left} more, at {self.run.facts.level_percent:g} %.",)

    def _now(self) -> str:
        if self.run.ended is not None:
            told = (self.run.ended.reason.value, " ".join(self.run.ended.words.split()).rstrip("."))
            return f"It has ended: {': '.join(filter(None, told))}."
        if self.is_broken_off:
            when = f"at {self._clock(self.run.last_at.unix_s)}, {in_words(self.silent_s)} ago"
            over = "" if self.may_go_on else ", and its time is over"
            return f"It was broken off {when}{over}. Of what was since then nothing is known."
        if self.silent_s > STALE_S:
            return f"It goes on, but has written nothing for {in_words(self.silent_s)}: is the disk full?"
        return "All is well just now." if not self.open else "Wrong just now:"

    def _gap(self) -> tuple[str, ...]:
        """Tell the last time that it was broken off and taken up again."""
        gaps = [event for event in self.events if event.kind is EventKind.JOURNAL_GAP]
        if not gaps:
            return ()
        began, ended = (at.unix_s if at else 0.0 for at in (gaps[-1].began_at, gaps[-1].ended_at))
        times = f"{self._clock(began)} to {self._clock(ended)}"
        more = f"; {len(gaps)} such gaps in all" if len(gaps) > 1 else ""
        return (f"Broken off and taken up again: nothing is known of {times}{more}.",)

    def _clock(self, unix_s: float) -> str:
        zone = timezone(timedelta(minutes=self.run.facts.utc_offset_minutes))
        return f"{datetime.fromtimestamp(unix_s, zone):%H:%M:%S}"

    def _wrong(self) -> tuple[str, ...]:
        lines = [f"! {event.kind.value} {event.subject}: {event.words}" for event in self.open[:LISTED]]
        more = len(self.open) - LISTED
        return (*lines, *([f"and {more} more"] if more > 0 else []))

    def _so_far(self) -> str:
        failures, remarks = self.count(Severity.FAILURE), self.count(Severity.REMARK)
        return f"So far: failures {failures}, remarks {remarks}."


def seen(display_file: Path, now_unix_s: float) -> Seen | None:
    """Return how the last run of a display file stands; None where there was none.

    JournalError where the journal cannot be read.
    """
    with reading(journal_path(display_file)) as reader:
        runs = reader.runs()
        if not runs:
            return None
        number = runs[-1].number
        return Seen(runs[-1], reader.events(number), now_unix_s, reader.writing_process(number))
