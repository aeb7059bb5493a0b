"""The report as data for scripts."""

from typing import Any

from streamer.report.bounds import Bound
from streamer.report.made import Report
from streamer.report.night import Night, Tally
from streamer.report.times import wall
from streamer.soak.records import Event, Moment


def as_dict(report: Report, *, file: str) -> dict[str, Any]:
    """Return everything; the README says what each key means."""
    night, judgement, facts = report.night, report.judgement, report.night.run.facts
    ended = night.run.ended
    return {
        "file": file,
        "verdict": judgement.verdict.value,
        "is_running": judgement.is_running,
        "failures": list(judgement.failures),
        "remarks": list(judgement.remarks),
        "run": {
            "number": night.run.number,
            "display": facts.display,
            "is_same_file": report.is_same_file,
            "programme": facts.programme,
            "asked_s": facts.asked_s,
            "began": _moment(night.run.began_at, night),
            "last": _moment(night.run.last_at, night),
            "ended": ended.reason.value if ended else None,
            "ended_words": ended.words if ended else "",
            "version": facts.version,
            "host": facts.host,
            "interface": facts.interface,
            "universes": list(facts.universes),
            "rate_hz": facts.rate_hz,
            "level_percent": facts.level_percent,
        },
        "watched_s": night.whole.watched_s,
        "samples": night.samples,
        "whole": _tally(night.whole),
        "bins": {"each_s": night.bin_s, "tallies": [_tally(each) for each in night.bins]},
        "events": [_event(each, night) for each in night.events],
        "controllers": [
            {"name": name, "asked": a.asked, "answered": a.answered, "round_trip_ms": a.round_trip_ms}
            for name, a in night.whole.answers.items()
        ],
        "supplies": [
            {"name": name, "most_a": amps, "limit_a": facts.supply_limits_a.get(name)}
            for name, amps in night.whole.supplies_a.items()
        ],
        "proof": _bound(report.bound),
        "findings": {
            "told": [
                {"at": e.at.isoformat(), "kind": e.kind.value, "name": e.name, "words": e.words}
                for e in report.findings.told
            ],
            "at_fault": list(report.findings.faults),
            "problem": report.findings.problem,
        },
    }


def _moment(at: Moment, night: Night) -> dict[str, Any]:
    clock = wall(at.unix_s, night.run.facts.utc_offset_minutes)
    return {"at": clock.isoformat() if clock else None, "run_s": at.run_s}


def _event(event: Event, night: Night) -> dict[str, Any]:
    return {
        "kind": event.kind.value,
        "subject": event.subject,
        "words": event.words,
        "severity": event.severity.value,
        "began": _moment(event.began_at, night),
        "ended": _moment(event.ended_at, night) if event.ended_at else None,
        "length_s": event.length_s,
    }


def _tally(tally: Tally) -> dict[str, Any]:
    return {
        "watched_s": tally.watched_s,
        "sent": tally.sent,
        "late": tally.late,
        "skipped": tally.skipped,
        "failed": tally.failed,
        "to_nowhere": tally.to_nowhere,
        "packets": tally.packets,
        "errors": dict(tally.errors),
        "lateness_p50_ms": tally.lateness_p50_ms,
        "lateness_p99_ms": tally.lateness_p99_ms,
        "lateness_p999_ms": tally.lateness_p999_ms,
        "lateness_max_ms": tally.lateness_max_ms,
        "amps": tally.amps,
        "supplies_a": dict(tally.supplies_a),
        "load": tally.load,
        "temperature_c": tally.temperature_c,
        "memory_octets": tally.memory_octets,
        "asked": sum(each.asked for each in tally.answers.values()),
        "answered": sum(each.answered for each in tally.answers.values()),
    }


def _bound(bound: Bound) -> dict[str, Any]:
    is_known = bound.hours > 0
    return {
        "failures": bound.failures,
        "hours": bound.hours,
        "confidence": bound.confidence,
        "most_per_hour": bound.per_hour if is_known else None,
        "hours_between_at_least": bound.hours_between if is_known else None,
        "rule_of_three_per_hour": bound.rule_of_three_per_hour,
    }
