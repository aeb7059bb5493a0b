"""The samples of a run, folded into what a page has room for: the whole, and some hundred bins along it.

One pass, and memory that does not grow with the night.
"""

from array import array
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import median

from streamer.soak.records import UNNAMED_SUPPLY, Event, RunRecord, Sample

BINS, BINS_LEAST = 240, 24
ANSWERS_MOST = 100_000
"""Kept of all controllers in all bins. Bounds memory."""
UNDER_WAY = 2
"""A poll and an echo whose answers are still to come when the last sample is taken."""
HOLE_SAMPLES = 3
"""After a longer time than so many stand for, a sample stands for itself: of the rest nothing is known."""
SECONDS_PER_HOUR = 3_600
ERRORS_LIMIT = 50
OTHER = "other"
"""Errors of more names than that: no system has so many, a hostile file may."""


@dataclass(slots=True)
class Answers:
    """How often a controller was asked, and answered."""

    asked: int = 0
    answered: int = 0
    round_trip_ms: float | None = None
    """The longest."""

    @property
    def share(self) -> float | None:
        """Of what was asked, how much was answered; None where nothing was asked."""
        return self.answered / self.asked if self.asked else None


@dataclass(slots=True)
class Tally:
    """What was counted within a time."""

    watched_s: float = 0
    sent: int = 0
    late: int = 0
    skipped: int = 0
    failed: int = 0
    to_nowhere: int = 0
    """Sent whole while a cable led nowhere: taken, and lost."""
    packets: int = 0
    errors: Counter[str] = field(default_factory=Counter)
    lateness_p50_ms: float = 0
    """The longest of the samples', as of the three that follow."""
    lateness_p99_ms: float = 0
    lateness_p999_ms: float = 0
    lateness_max_ms: float = 0
    amps: float | None = None
    """Of the whole display, the most."""
    supplies_a: dict[str, float | None] = field(default_factory=dict)
    """By the name of the supply, the most; None where nothing was reckoned. Those that it was made with."""
    load: float | None = None
    temperature_c: float | None = None
    memory_octets: int = 0
    answers: dict[str, Answers] = field(default_factory=dict)
    """By the name of the controller: those that it was made with, and no others."""

    def add(self, sample: Sample, seconds: float) -> None:
        """Count one sample in, which stands for so many seconds."""
        self.watched_s += seconds
        self.sent += sample.frames_sent
        self.late += sample.frames_late
        self.skipped += sample.frames_skipped
        self.failed += sample.frames_failed
        if sample.has_carrier is False:
            self.to_nowhere += sample.frames_sent - sample.frames_failed
        self.packets += sample.packets
        for name, count in sample.errors.items():
            self.errors[name if name in self.errors or len(self.errors) < ERRORS_LIMIT else OTHER] += count
        late = sample.lateness
        self.lateness_p50_ms = max(self.lateness_p50_ms, late.p50_ms)
        self.lateness_p99_ms = max(self.lateness_p99_ms, late.p99_ms)
        self.lateness_p999_ms = max(self.lateness_p999_ms, late.p999_ms)
        self.lateness_max_ms = max(self.lateness_max_ms, late.max_ms)
        self.amps = _most(self.amps, sample.amps_total)
        for name, amps in sample.amps.items():
            if name in self.supplies_a:
                self.supplies_a[name] = _most(self.supplies_a[name], amps)
        self.load = _most(self.load, sample.host.load)
        self.temperature_c = _most(self.temperature_c, sample.host.temperature_c)
        self.memory_octets = max(self.memory_octets, sample.host.memory_octets)
        for each in sample.controllers:
            kept = self.answers.get(each.name)
            if kept is None:
                continue
            kept.asked += each.polls_asked + each.echoes_asked
            kept.answered += each.polls_answered + each.echoes_answered
            kept.round_trip_ms = _most(kept.round_trip_ms, each.round_trip_ms)

    @property
    def due(self) -> int:
        """Frames whose moment came: sent or skipped."""
        return self.sent + self.skipped

    @property
    def lost(self) -> int:
        """Of those, as many as did not leave this machine whole, as far as it can know."""
        return self.skipped + self.failed + self.to_nowhere


@dataclass(frozen=True, slots=True)
class Night:
    """A run, as much as a page tells of it."""

    run: RunRecord
    events: tuple[Event, ...]
    whole: Tally
    bins: tuple[Tally, ...]
    bin_s: float
    """How long each is; the last may be cut short."""
    samples: int
    usual_p50_ms: float
    """The median of the samples' medians."""
    usual_p99_ms: float
    first_memory_octets: int
    """Of the first tenth of the run, the most."""

    @property
    def length_s(self) -> float:
        """From the beginning to the last moment that anything is known of."""
        return self.run.last_at.run_s

    @property
    def watched_hours(self) -> float:
        """What the samples stand for."""
        return self.whole.watched_s / SECONDS_PER_HOUR


def fold(run: RunRecord, events: Sequence[Event], samples: Iterable[Sample]) -> Night:
    """Return the run, its samples taken one by one."""
    length_s = max(run.last_at.run_s, run.facts.sample_s)
    names = [each.name for each in run.facts.controllers]
    count = min(BINS, max(BINS_LEAST, ANSWERS_MOST // max(1, len(names))))
    bin_s = max(length_s / count, run.facts.sample_s)
    # What is left over at the end and too short for a sample is no bin of its own.
    bins_used = int(length_s // bin_s) + (length_s % bin_s >= run.facts.sample_s)
    supplies = (*run.facts.supplies, UNNAMED_SUPPLY)
    bins = [_tally(names, supplies) for _ in range(max(1, bins_used))]
    whole, last_s = _tally(names, supplies), 0.0
    p50s, p99s = array("f"), array("f")
    for sample in samples:
        seconds = max(0.0, sample.at.run_s - last_s)
        if seconds > HOLE_SAMPLES * run.facts.sample_s:
            seconds = run.facts.sample_s
        # A sample stands for the time before it.
        middle_s = sample.at.run_s - seconds / 2
        for tally in (whole, bins[min(max(0, int(middle_s // bin_s)), len(bins) - 1)]):
            tally.add(sample, seconds)
        p50s.append(sample.lateness.p50_ms)
        p99s.append(sample.lateness.p99_ms)
        last_s = max(last_s, sample.at.run_s)
    for name in names:
        _answers_to_questions([each.answers[name] for each in bins])
        whole.answers[name].answered = sum(each.answers[name].answered for each in bins)
    return Night(
        run=run,
        events=tuple(events),
        whole=whole,
        bins=tuple(bins),
        bin_s=bin_s,
        samples=len(p50s),
        usual_p50_ms=median(p50s) if p50s else 0,
        usual_p99_ms=median(p99s) if p99s else 0,
        first_memory_octets=max(each.memory_octets for each in bins[: max(1, len(bins) // 10)]),
    )


def _answers_to_questions(bins: Sequence[Answers]) -> None:
    """Count answers in the bin that asked for them, and none that nobody asked for."""
    for before, after in pairwise(bins):
        late = min(max(0, after.answered - after.asked), before.asked - before.answered)
        if late > 0:
            before.answered += late
            after.answered -= late
    for each in bins:
        each.answered = min(each.answered, each.asked)
    last = bins[-1]
    last.answered = last.asked if last.asked - last.answered <= UNDER_WAY else last.answered


def _tally(controllers: Sequence[str], supplies: Sequence[str]) -> Tally:
    return Tally(answers={name: Answers() for name in controllers}, supplies_a=dict.fromkeys(supplies))


def _most(kept: float | None, new: float | None) -> float | None:
    if kept is None or new is None:
        return new if kept is None else kept
    return max(kept, new)
