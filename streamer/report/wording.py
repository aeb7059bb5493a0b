"""The report's sentences, the same in a terminal, on the page and in Markdown."""

from collections.abc import Iterator

from streamer.display.places import plain
from streamer.logbook.wording import event as logbook_event
from streamer.net.complaints import SENTENCES
from streamer.report.bounds import hours_needed
from streamer.report.made import Report
from streamer.report.night import SECONDS_PER_HOUR, Night
from streamer.report.rows import EVENTS_TOLD
from streamer.report.times import day_text, length_text
from streamer.report.verdict import Verdict
from streamer.soak.programme import ALL_LEVEL_PERCENT, how_to_heat, not_heated
from streamer.soak.records import EventKind, Severity

MEGA = 1_000_000
SHOW_HOURS = 5.0
"""An evening's show, for a figure that a person can picture."""
SEASON_SHOWS = 30
ALL_BUT_CERTAIN = 0.99
MANY = 1_000
UNWATCHED = (
    "Nobody looked at the lights: that frames left this machine and that controllers answered does not say "
    "that a string shows them. Walk round while it plays, and note what you see with ropewalk log"
)
STEADY = (
    "The bound holds for failures that come at random at a steady rate, in weather and under a load like "
    "this night's; what wears out, rain, frost, a fuller evening or a later change are not in it"
)


def verdict_line(report: Report) -> str:
    """Return the verdict in one line: what, how long, and the first reason."""
    judgement, night = report.judgement, report.night
    so_far = " so far, still running" if judgement.is_running else ""
    reasons = [*judgement.failures, *judgement.remarks]
    more = f", and {_counted(len(reasons) - 1, 'more reason')}" if len(reasons) > 1 else ""
    why = f": {reasons[0]}{more}" if reasons else ", nothing to remark"
    level = night.run.facts.level_percent
    at_level = f" at a level of {level:g} %" if level < ALL_LEVEL_PERCENT else ""
    return f"{judgement.verdict.upper()}{so_far} after {length_text(night.length_s)}{at_level}{why}."


def run_lines(report: Report) -> Iterator[str]:
    """Yield what the run was."""
    night, facts = report.night, report.night.run.facts
    offset, ended = facts.utc_offset_minutes, night.run.ended
    began, last = (day_text(at.unix_s, offset) for at in (night.run.began_at, night.run.last_at))
    how = ended.reason.value if ended else "not ended"
    yield f"{facts.display}, run {night.run.number}: {began} to {last}, {how}"
    yield (
        f"Programme {facts.programme.replace(',', ', ')}, {_counted(len(facts.universes), 'universe')} on "
        f"{_counted(len(facts.controllers), 'controller')}, {facts.rate_hz:g} frames a second, level "
        f"{facts.level_percent:g} %"
    )
    where = f" by {facts.interface}" if facts.interface else ""
    asked = f"asked for {length_text(facts.asked_s)}" if facts.asked_s else "no end was set"
    yield f"From {facts.host}{where}, Ropewalk {facts.version}; {asked}"
    if report.is_same_file is None:
        yield f"The display file is no longer there: {facts.display_file}"
    elif not report.is_same_file:
        yield f"The display file has changed since: {facts.display_file}"


def reasons(report: Report) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return the reasons with their headings, those that there are."""
    pairs = (("Failures", report.judgement.failures), ("Remarks", report.judgement.remarks))
    return tuple((heading, told) for heading, told in pairs if told)


def frame_lines(night: Night) -> Iterator[str]:
    """Yield what became of the frames, and how late they were."""
    whole = night.whole
    yield (
        f"{whole.sent:,} frames sent in {whole.packets:,} packets; {whole.late:,} late, {whole.skipped:,} "
        f"skipped, {whole.failed:,} failed"
    )
    if whole.to_nowhere:
        yield f"{whole.to_nowhere:,} of them were sent while a cable led nowhere, and lost"
    if whole.errors:
        yield f"Refused by the system: {'; '.join(_refused(*each) for each in whole.errors.most_common())}"
    if night.samples:
        yield (
            f"Lateness: usually {night.usual_p50_ms:.2f} ms at the median and {night.usual_p99_ms:.2f} ms at "
            f"99 %; in the worst {night.run.facts.sample_s:g} s {whole.lateness_p99_ms:.1f} ms at 99 % and "
            f"{whole.lateness_p999_ms:.1f} ms at 99.9 %; the latest of all {whole.lateness_max_ms:.1f} ms"
        )


def _refused(name: str, count: int) -> str:
    what, _ = SENTENCES.get(name, ("", ""))
    return f"{_counted(count, 'packet')} with {plain(name)}{f', {what}' if what else ''}"


def host_lines(night: Night) -> Iterator[str]:
    """Yield how this machine and the supplies did, what is known of it."""
    whole = night.whole
    if whole.amps is not None:
        yield f"The frames called for at most {whole.amps:.2f} A at once, reckoned and not measured"
    machine = [
        f"load up to {whole.load:.1f}" if whole.load is not None else "",
        f"up to {whole.temperature_c:.0f} °C" if whole.temperature_c is not None else "",
        f"memory {night.first_memory_octets / MEGA:.0f} MB at first, {whole.memory_octets / MEGA:.0f} MB at "
        "most"
        if whole.memory_octets
        else "",
    ]
    if any(machine):
        yield f"This machine: {', '.join(filter(None, machine))}"


def events_left_out(night: Night) -> str:
    """Return how much of what happened is not in the rows; empty where nothing."""
    steps = sum(e.kind is EventKind.STEP and e.severity is Severity.NOTICE for e in night.events)
    more = len(night.events) - steps - EVENTS_TOLD
    told = [
        _counted(more, "more event") if more > 0 else "",
        _counted(steps, "programme step") if steps else "",
    ]
    return f"Besides: {' and '.join(filter(None, told))}." if any(told) else ""


def proof_lines(report: Report) -> Iterator[str]:
    """Yield what the night proves of failures to come."""
    bound = report.bound
    if not bound.hours:
        yield "Nothing was watched, so nothing is proven"
        return
    count = _counted(bound.failures, "failure") if bound.failures else "No failure"
    three = bound.rule_of_three_per_hour
    beside = f"; the rule of three says 3 / {bound.hours:.2f} h = {_rate(three)}" if three is not None else ""
    yield (
        f"{count} in {bound.hours:.2f} watched hours: with {bound.confidence:.0%} confidence there are no "
        f"more than {_rate(bound.per_hour)} an hour (exact, by chi-squared{beside})".replace("%", " %")
    )
    yield (
        f"That is one in {_hours(bound.hours_between)} or seldomer. At that rate a show of {SHOW_HOURS:g} h "
        f"would still fail with a chance of {_chance(bound.chance_of_failure(SHOW_HOURS))}"
    )


def _chance(share: float) -> str:
    """Return a chance in whole percent, so that nothing is certain."""
    return f"{share:.0%}".replace("%", " %") if share < ALL_BUT_CERTAIN else "more than 99 %"


def limit_lines(report: Report) -> Iterator[str]:
    """Yield what it does not prove."""
    facts = report.night.run.facts
    if why := not_heated(facts.programme, facts.level_percent):
        heat = f"Supplies, leads and joints were not heated as by a full show: {why}"
        yield f"{heat}. For that, {how_to_heat(facts.supplies)}"
    season_h = SHOW_HOURS * SEASON_SHOWS
    yield (
        f"To prove one failure or less in {season_h:g} h, {SEASON_SHOWS} shows, takes "
        f"{hours_needed(season_h):.0f} h without any"
    )
    yield STEADY
    yield UNWATCHED
    if report.judgement.verdict is not Verdict.FAILED and not any(
        each.asked for each in report.night.whole.answers.values()
    ):
        yield "No controller was ever asked whether it is there"


def _counted(count: int, what: str) -> str:
    return f"{count:,} {what}{'' if count == 1 else 's'}"


def _rate(per_hour: float) -> str:
    return f"{per_hour:.3g}"


def _hours(hours: float) -> str:
    if hours < 1:
        return length_text(hours * SECONDS_PER_HOUR)
    return f"{hours:,.0f} h" if hours >= MANY else f"{hours:.3g} h"


def finding_lines(report: Report) -> Iterator[str]:
    """Yield what people wrote into the logbook since the run began, and what is at fault."""
    findings = report.findings
    if findings.problem:
        yield f"The logbook cannot be told: {findings.problem}"
    for entry in findings.told:
        what = logbook_event(entry)
        yield f"{entry.at:%Y-%m-%d %H:%M} {entry.name or 'display'}: {what}"
    if findings.faults:
        yield f"At fault as it stands: {', '.join(findings.faults)}"
