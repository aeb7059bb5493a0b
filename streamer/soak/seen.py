"""How a night run stands, as its journal tells it to somebody who looks on. Time is an argument."""

from dataclasses import dataclass
from pathlib import Path

from streamer.errors import PlanError
from streamer.soak.durations import in_words
from streamer.soak.journal import journal_path, reading
from streamer.soak.programme import parse_programme
from streamer.soak.records import Event, RunRecord, Severity

STALE_S = 20.0
"""Four samples: a run that has written nothing for longer was broken off."""
FILLED, EMPTY = "#", "."
PERCENT = 100
LISTED = 5


@dataclass(frozen=True, slots=True)
class Seen:
    """The last run of a display file."""

    run: RunRecord
    events: tuple[Event, ...]
    now_unix_s: float

    @property
    def is_running(self) -> bool:
        """Whether it writes."""
        return self.run.ended is None and not self.is_broken_off

    @property
    def is_broken_off(self) -> bool:
        """Whether it stopped without a word."""
        silent_s = self.now_unix_s - self.run.last_at.unix_s
        return self.run.ended is None and silent_s > STALE_S

    @property
    def share(self) -> float:
        """How much of its time has passed, from 0 to 1."""
        return min(1.0, self.run.last_at.run_s / max(1.0, self.run.facts.asked_s))

    @property
    def open(self) -> tuple[Event, ...]:
        """What is wrong just now."""
        return tuple(event for event in self.events if event.ended_at is None) if self.is_running else ()

    def count(self, severity: Severity) -> int:
        """Return how many events of a severity there were."""
        return sum(event.severity is severity for event in self.events)

    def lines(self, columns: int) -> tuple[str, ...]:
        """Return it in words, the bar first, no line longer than `columns` by itself."""
        return (self._bar(columns), *self._showing(), self._now(), *self._wrong(), self._so_far())

    def _bar(self, columns: int) -> str:
        left_s = max(0.0, self.run.facts.asked_s - self.run.last_at.run_s)
        text = f" {self.share * PERCENT:.0f} %, {in_words(float(round(left_s)))} left"
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
            return f"It has ended: {self.run.ended.reason.value}."
        if self.is_broken_off:
            silent_s = self.now_unix_s - self.run.last_at.unix_s
            again = f"ropewalk soak {self.run.facts.display_file} --resume"
            return f"It was broken off {in_words(silent_s)} ago. To go on: {again}"
        return "All is well just now." if not self.open else "Wrong just now:"

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
        return Seen(runs[-1], reader.events(runs[-1].number), now_unix_s) if runs else None
