"""An invented night of eight hours at the boathouse: faults at known times, in the clocks' own seconds."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from streamer.report.made import Findings, Report, report
from streamer.soak.records import (
    ControllerSample,
    Ended,
    EndReason,
    Event,
    EventKind,
    Lateness,
    Moment,
    RunRecord,
    Sample,
    Severity,
)
from tests.soak.conftest import NODES, TEN_IN_THE_EVENING, facts, sample

HOURS = 8
LENGTH_S = HOURS * 3_600
EACH_S = 5
CABLE_OUT_S, CABLE_IN_S = 7_200, 7_290
"""The jetty's cable, at midnight, for a minute and a half."""
Make = Callable[..., Report]


def at(run_s: float) -> Moment:
    """Return a moment of the night by both clocks."""
    return Moment(TEN_IN_THE_EVENING + run_s, run_s)


@cache
def quiet(length_s: float = LENGTH_S, names: tuple[str, ...] = NODES) -> tuple[Sample, ...]:
    """Return the samples of a night in which all was well."""
    return tuple(
        sample(at(run_s), names, seed=run_s * 7 % 97 / 97)
        for run_s in range(EACH_S, int(length_s) + 1, EACH_S)
    )


def stormy() -> Iterator[Sample]:
    """Give the samples of a night with the jetty's cable out, and a busy machine at four."""
    for each in quiet():
        told = each
        if CABLE_OUT_S < each.at.run_s <= CABLE_IN_S:
            away = ControllerSample("jetty", 2, 0, 5, 0)
            told = replace(told, controllers=(told.controllers[0], away))
        if 21_600 < each.at.run_s <= 21_630:
            told = replace(told, frames_late=9, frames_skipped=4, lateness=Lateness(2, 24, 60, 112.5))
        yield told


STORMY_EVENTS = (
    Event(EventKind.STARTED, "", "", Severity.NOTICE, at(0), at(0)),
    Event(EventKind.STEP, "", "all dark", Severity.NOTICE, at(0), at(60)),
    Event(EventKind.LINK_DOWN, "eth0", "the cable leads nowhere", Severity.FAILURE, at(7_201), at(7_288)),
    Event(
        EventKind.CONTROLLER_GONE,
        "jetty",
        "no answer to ArtPoll or echo",
        Severity.FAILURE,
        at(CABLE_OUT_S + 4),
        at(CABLE_IN_S),
    ),
    Event(
        EventKind.CONTROLLER_REBOOTED,
        "jetty",
        "its counter began anew",
        Severity.REMARK,
        at(9_000),
        at(9_000),
    ),
    Event(
        EventKind.OTHER_SOURCE, "hall", "universe 3 at priority 100", Severity.REMARK, at(14_400), at(14_460)
    ),
    Event(EventKind.ENDED, "", "", Severity.NOTICE, at(LENGTH_S), at(LENGTH_S)),
)


def run(length_s: float = LENGTH_S, **more: Any) -> RunRecord:
    """Return a run that ended when its time was up, unless said otherwise."""
    end = Ended(at(length_s), EndReason.TIME_UP)
    given: dict[str, Any] = {
        "number": 3,
        "facts": facts(),
        "began_at": at(0),
        "ended": end,
        "last_at": at(length_s),
        **more,
    }
    return RunRecord(**given)


@pytest.fixture(name="make")
def _make() -> Make:
    def make(
        events: tuple[Event, ...] = (),
        samples: Iterable[Sample] | None = None,
        findings: Findings | None = None,
        now_s: float = LENGTH_S + 600,
        **more: Any,
    ) -> Report:
        record = run(**more)
        given = quiet(record.last_at.run_s) if samples is None else samples
        return report(
            record,
            events,
            given,
            findings or Findings(),
            TEN_IN_THE_EVENING + now_s,
            fingerprint=record.facts.fingerprint,
        )

    return make


@cache
@cache
def stormy_report() -> Report:
    """Return the report of the night with faults."""
    made_s = TEN_IN_THE_EVENING + LENGTH_S + 600
    return report(run(), STORMY_EVENTS, stormy(), Findings(), made_s, fingerprint=facts().fingerprint)


@pytest.fixture(name="stormy")
def _stormy() -> Report:
    return stormy_report()
