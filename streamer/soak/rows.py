"""Runs, samples and events as rows of SQLite and back. What a row says is checked before anybody sees it.

A sample is JSON without what is as usual, packed with a dictionary of the words that come again in every one:
about a fifth of its length.
"""

import json
import math
import zlib
from collections.abc import Mapping
from typing import Any

from pydantic import TypeAdapter

from streamer.soak.records import Ended, Event, Moment, RunFacts, RunRecord, Sample

DECIMALS = 3
"""Milliseconds of a moment, microseconds of a lateness, thousandths of an ampere."""
TOLD_LIMIT_OCTETS = 1_000_000
"""A sample unpacked; a hostile file may say a lot in few octets."""
COMMON = (
    b'{"echoes_answered": 1, "echoes_asked": 1, "errors": {"ENETUNREACH": , "memory_octets": , '
    b'"temperature_c": "load": , "host": {"step": , "address": "192.168.", "has_carrier": true, '
    b'"amps_total": , "amps": {"lateness": {"p50_ms": 0.1, "p99_ms": 0.2, "p999_ms": 0., "max_ms": }, '
    b'"frames_skipped": , "frames_late": , "frames_failed": , "packets": , {"frames_sent": 200, '
    b'"controllers": [{"name": "", "polls_asked": 2, "polls_answered": 2, '
    b'"echoes_asked": 5, "echoes_answered": 5, "round_trip_ms": 0.'
)
"""Part of the file's format: another one is another version of the file."""

_SAMPLE: TypeAdapter[Sample] = TypeAdapter(Sample)
_EVENT: TypeAdapter[Event] = TypeAdapter(Event)
_FACTS: TypeAdapter[RunFacts] = TypeAdapter(RunFacts)
_ENDED: TypeAdapter[Ended] = TypeAdapter(Ended)


def told_of(sample: Sample) -> bytes:
    """Return a sample without its moment."""
    told = _SAMPLE.dump_python(sample, mode="json", exclude={"at"}, exclude_defaults=True)
    packer = zlib.compressobj(zdict=COMMON)
    return packer.compress(json.dumps(_rounded(told)).encode()) + packer.flush()


def sample_of(row: tuple[Any, ...]) -> Sample:
    """Return the sample of (unix_s, run_s, told); ValueError for one that is none of ours."""
    unix_s, run_s, told = row
    try:
        opener = zlib.decompressobj(zdict=COMMON)
        text = opener.decompress(told, TOLD_LIMIT_OCTETS)
        if opener.unconsumed_tail or not opener.eof:
            raise ValueError("a sample is longer than any of ours, or cut off")
        said = json.loads(text, parse_float=_finite, parse_constant=_finite)
        return _SAMPLE.validate_python({**said, "at": _moment(unix_s, run_s)})
    except (TypeError, zlib.error, RecursionError) as error:
        raise ValueError(str(error)) from error


def facts_text(facts: RunFacts) -> str:
    """Return what a run is, as JSON."""
    return _FACTS.dump_json(facts).decode()


def run_of(row: tuple[Any, ...], last_at: Moment | None = None) -> RunRecord:
    """Return the run of (number, facts, began_unix_s, ended_unix_s, ended_run_s, reason, words)."""
    number, facts, began_unix_s, ended_unix_s, ended_run_s, reason, words = row
    try:
        began_at = _moment(began_unix_s, 0.0)
        ended = None
        if reason is not None:
            at = _moment(ended_unix_s, ended_run_s)
            ended = _ENDED.validate_python({"at": at, "reason": reason, "words": words})
        return RunRecord(int(number), _FACTS.validate_json(facts), began_at, ended, last_at or began_at)
    except (TypeError, OverflowError) as error:
        raise ValueError(str(error)) from error


def event_row(run: int, event: Event) -> tuple[Any, ...]:
    """Return the columns of an event after its number."""
    ended = event.ended_at
    return (
        run,
        event.kind.value,
        _whole(event.subject),
        _whole(event.words),
        event.severity.value,
        event.began_at.unix_s,
        event.began_at.run_s,
        ended.unix_s if ended else None,
        ended.run_s if ended else None,
    )


def event_of(row: tuple[Any, ...]) -> Event:
    """Return the event of the columns from its kind on; ValueError for one that is none of ours."""
    kind, subject, words, severity, began_unix_s, began_run_s, ended_unix_s, ended_run_s = row
    return _EVENT.validate_python(
        {
            "kind": kind,
            "subject": subject,
            "words": words,
            "severity": severity,
            "began_at": _moment(began_unix_s, began_run_s),
            "ended_at": None if ended_run_s is None else _moment(ended_unix_s, ended_run_s),
        }
    )


def _moment(unix_s: object, run_s: object) -> Moment:
    if not isinstance(unix_s, int | float) or not isinstance(run_s, int | float):
        raise ValueError("a moment is no number")  # noqa: TRY004  the callers' contract
    return Moment(_finite(unix_s), _finite(run_s))


def _finite(number: str | float) -> float:
    value = float(number)
    if not math.isfinite(value):
        raise ValueError(f"{number} is no number to count with")
    return value


def _whole(text: str) -> str:
    """Return a text that SQLite can keep: what no encoding can say is said by a question mark."""
    return text.encode("utf-8", "replace").decode()


def _rounded(value: object) -> object:
    if isinstance(value, Mapping):
        return {str(name): _rounded(each) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(each) for each in value]
    return round(value, DECIMALS) if isinstance(value, float) else value
