"""Whether a display can be trusted after a night: passed, passed with remarks, or failed; and why."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from streamer.report.night import Night
from streamer.report.times import length_text
from streamer.soak.records import EndReason, Event, EventKind, Severity

LATE_SHARE = 0.01
"""Of the frames: nobody sees one that is a tenth of a period late, but so many are a sign of something."""
WATCHED_SHARE = 0.99
SAME_CAUSE_S = 15.0
"""A controller is missed some seconds after its cable was."""
SILENT_S = 60.0
"""A run that has not written for so long is no longer running."""


class Verdict(StrEnum):
    """In the words of the first line."""

    PASSED = "passed"
    REMARKS = "passed with remarks"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Judgement:
    """The verdict, and why: failures first."""

    verdict: Verdict
    failures: tuple[str, ...]
    """Reasons in words, each without its full stop."""
    remarks: tuple[str, ...]
    is_running: bool
    """Whether it still runs: then the verdict is one so far."""


def judge(night: Night, now_unix_s: float, open_faults: int = 0) -> Judgement:
    """Return the verdict at this moment; `open_faults` strings and fixtures are at fault by the logbook."""
    is_running = night.run.ended is None and abs(now_unix_s - night.run.last_at.unix_s) < SILENT_S
    failures = (*_failed(night, is_running=is_running), *_of_events(night, Severity.FAILURE))
    remarks = (*_remarkable(night), *_of_events(night, Severity.REMARK), *_of_logbook(open_faults))
    verdict = Verdict.FAILED if failures else Verdict.REMARKS if remarks else Verdict.PASSED
    return Judgement(verdict, failures, remarks, is_running)


def failure_count(night: Night, judgement: Judgement) -> int:
    """Return how often it failed: what overlaps, or follows within seconds, counts once."""
    count, until_s = 0, -math.inf
    for each in night.events:
        if each.severity is Severity.FAILURE:
            count += each.began_at.run_s > until_s + SAME_CAUSE_S
            until_s = max(until_s, (each.ended_at or night.run.last_at).run_s)
    return max(count, int(judgement.verdict is Verdict.FAILED))


def _failed(night: Night, *, is_running: bool) -> Iterator[str]:
    ended = night.run.ended
    if not night.whole.sent:
        yield "no frame was sent" if night.samples else "nothing was watched: there is not one sample"
    if ended is None and not is_running:
        yield "the run was broken off and never resumed"
    elif ended and ended.reason is EndReason.FAILED:
        yield f"the run {EndReason.FAILED}: {ended.words}" if ended.words else f"the run {EndReason.FAILED}"


def _remarkable(night: Night) -> Iterator[str]:
    whole, facts, ended = night.whole, night.run.facts, night.run.ended
    if ended and ended.reason is EndReason.STOPPED and facts.asked_s:
        yield f"stopped by hand after {length_text(night.length_s)} of {length_text(facts.asked_s)}"
    if whole.failed:
        yield f"{whole.failed:,} frames did not leave whole, of {whole.due:,}"
    if whole.to_nowhere:
        yield f"{whole.to_nowhere:,} frames went to a cable that led nowhere, of {whole.due:,}"
    if whole.skipped:
        yield f"{whole.skipped:,} frames were skipped, of {whole.due:,}"
    if whole.sent and whole.late > LATE_SHARE * whole.sent:
        yield f"{whole.late / whole.sent:.1%} of the frames were late".replace("%", " %")
    if night.samples and whole.watched_s < WATCHED_SHARE * night.length_s:
        yield f"{length_text(night.length_s - whole.watched_s)} of it were not watched"
    yield from _silent(night)


def _silent(night: Night) -> Iterator[str]:
    gone = {each.subject for each in night.events if each.kind is EventKind.CONTROLLER_GONE}
    for name, answers in night.whole.answers.items():
        if answers.answered < answers.asked and name not in gone:
            yield f"{name} answered {answers.answered:,} of {answers.asked:,} times"


def _of_events(night: Night, severity: Severity) -> Iterator[str]:
    alike: dict[tuple[EventKind, str], list[Event]] = {}
    for each in night.events:
        if each.severity is severity:
            alike.setdefault((each.kind, each.subject), []).append(each)
    for (kind, subject), events in alike.items():
        lengths_s = sum((e.ended_at or night.run.last_at).run_s - e.began_at.run_s for e in events)
        about = f"{kind} ({subject})" if subject else kind.value
        times = f", {len(events):,} times" if len(events) > 1 else ""
        yield f"{about}{times}{f' for {length_text(lengths_s)}' if lengths_s > 0 else ''}"


def _of_logbook(open_faults: int) -> Iterator[str]:
    if open_faults:
        what = "1 string or fixture is" if open_faults == 1 else f"{open_faults} strings and fixtures are"
        yield f"{what} at fault by the logbook"
