"""The report of a run, from what was read: judged, bounded, and every name made fit to be printed."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from streamer.display.places import plain
from streamer.logbook.records import Entry, Kind, Verdict, standing_entries
from streamer.report.bounds import Bound, bound
from streamer.report.night import Night, fold
from streamer.report.verdict import Judgement, failure_count, judge
from streamer.soak.records import Event, RunFacts, RunRecord, Sample


@dataclass(frozen=True, slots=True)
class Findings:
    """What people wrote into the logbook."""

    told: tuple[Entry, ...] = ()
    """Since the run began: found, fixed and noted; answers only where they settled something."""
    faults: tuple[str, ...] = ()
    """Strings and fixtures that are at fault as it stands."""
    problem: str = ""
    """Why there is nothing of it, where it cannot be read."""


@dataclass(frozen=True, slots=True)
class Report:
    """All that the page says; its texts hold no character that cannot be printed."""

    night: Night
    judgement: Judgement
    bound: Bound
    findings: Findings
    is_same_file: bool | None
    """Whether the display file is still the one of the run; None where it is gone."""
    made_unix_s: float


def report(  # noqa: PLR0913  what a report is made of
    run: RunRecord,
    events: Sequence[Event],
    samples: Iterable[Sample],
    findings: Findings,
    now_unix_s: float,
    *,
    fingerprint: str | None = None,
) -> Report:
    """Return the report of this moment; `fingerprint` is the display file's now, None where it is gone."""
    facts = run.facts
    odd = {each.name: plain(each.name) for each in facts.controllers}
    odd_supplies = {each: plain(each) for each in facts.supplies}
    night = fold(
        replace(run, facts=_tamed(facts)),
        tuple(replace(e, subject=plain(e.subject), words=plain(e.words)) for e in events),
        samples
        if all(name == printed for each in (odd, odd_supplies) for name, printed in each.items())
        else (_renamed(each, odd, odd_supplies) for each in samples),
    )
    judgement = judge(night, now_unix_s, len(findings.faults))
    return Report(
        night=night,
        judgement=judgement,
        bound=bound(failure_count(night, judgement), night.watched_hours),
        findings=findings,
        is_same_file=None if fingerprint is None else fingerprint == facts.fingerprint,
        made_unix_s=now_unix_s,
    )


def findings_of(entries: Iterable[Entry], since_unix_s: float, faults: Sequence[str]) -> Findings:
    """Return what was written since then, and what is at fault now."""
    told = [
        _printable(entry)
        for entry in standing_entries(entries)
        if entry.at.timestamp() >= since_unix_s
        and (entry.kind in (Kind.FOUND, Kind.FIXED, Kind.NOTE) or entry.verdict is Verdict.FAULT)
    ]
    return Findings(tuple(told), tuple(map(plain, faults)))


def _printable(entry: Entry) -> Entry:
    """Return an entry whose texts can be printed."""
    texts = {key: plain(getattr(entry, key)) for key in ("name", "label", "look", "answer", "words")}
    return entry.model_copy(update=texts)


def _tamed(facts: RunFacts) -> RunFacts:
    texts = {
        key: plain(getattr(facts, key))
        for key in ("display_file", "display", "programme", "version", "host", "interface")
    }
    controllers = tuple(
        replace(each, name=plain(each.name), address=plain(each.address), protocol=plain(each.protocol))
        for each in facts.controllers
    )
    return replace(
        facts,
        **texts,  # type: ignore[arg-type]
        controllers=controllers,
        universes=tuple(map(plain, facts.universes)),
        supplies=tuple(map(plain, facts.supplies)),
        supply_limits_a={plain(name): amps for name, amps in facts.supply_limits_a.items()},
        steps=tuple(map(plain, facts.steps)),
    )


def _renamed(sample: Sample, names: dict[str, str], supplies: dict[str, str]) -> Sample:
    controllers = tuple(replace(each, name=names.get(each.name, each.name)) for each in sample.controllers)
    amps = {supplies.get(name, name): amps for name, amps in sample.amps.items()}
    return replace(sample, controllers=controllers, amps=amps)
