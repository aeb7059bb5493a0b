"""Passed, passed with remarks, failed: what decides it, and what a night is made of."""

from dataclasses import replace
from typing import Any

import pytest

from streamer.report.made import Findings, Report
from streamer.report.timeline import Mark, lanes
from streamer.report.verdict import Verdict, failure_count
from streamer.soak.records import ControllerSample, Ended, EndReason, Event, EventKind, Sample, Severity
from tests.report.conftest import EACH_S, LENGTH_S, Make, at, quiet

MINUTES_S = 600


def test_a_quiet_night_has_passed(make: Make):
    """Nothing to remark, all of it watched, nothing counted that was not there."""
    quiet_night = make()
    assert quiet_night.judgement.verdict is Verdict.PASSED
    assert quiet_night.judgement.failures == quiet_night.judgement.remarks == ()
    assert quiet_night.night.watched_hours == 8
    assert quiet_night.night.whole.sent == LENGTH_S // EACH_S * 200
    assert sum(each.sent for each in quiet_night.night.bins) == quiet_night.night.whole.sent
    assert {each.share for each in quiet_night.night.whole.answers.values()} == {1}
    assert (quiet_night.bound.failures, quiet_night.bound.hours) == (0, 8)


def test_a_night_with_faults_has_failed_for_reasons_in_order(stormy: Report):
    """Failures first; what has one cause counts as one failure."""
    assert stormy.judgement.verdict is Verdict.FAILED
    assert stormy.judgement.failures == (
        "link down (eth0) for 1 min 27 s",
        "controller gone (jetty) for 1 min 26 s",
    )
    assert stormy.judgement.remarks == (
        "24 frames were skipped, of 1,152,024",
        "controller rebooted (jetty)",
        "other source (hall) for 1 min",
    )
    assert stormy.bound.failures == 1


def test_failures_far_apart_are_several(make: Make):
    """And one that is still open goes on to the end."""
    events = tuple(
        Event(EventKind.LINK_DOWN, "eth0", "", Severity.FAILURE, at(s), at(s + 5)) for s in (100, 110, 500)
    )
    night = make(events)
    assert failure_count(night.night, night.judgement) == 2
    still = (replace(events[0], ended_at=None), *events[1:])
    assert make(still).bound.failures == 1


@pytest.mark.parametrize(
    ("changed", "remark"),
    [
        ({"frames_skipped": 1}, "1,440 frames were skipped, of 289,440"),
        ({"frames_failed": 1}, "1,440 frames did not leave whole, of 288,000"),
        ({"has_carrier": False}, "288,000 frames went to a cable that led nowhere, of 288,000"),
        ({"frames_late": 3}, "1.5 % of the frames were late"),
    ],
)
def test_lost_and_late_frames_are_remarked(make: Make, changed: dict[str, Any], remark: str):
    """A hundredth of the frames late, or any lost."""
    given = (replace(each, **changed) for each in quiet(7_200))
    told = make((), given, last_at=at(7_200), ended=Ended(at(7_200), EndReason.TIME_UP)).judgement
    assert (told.verdict, told.remarks) == (Verdict.REMARKS, (remark,))


def test_a_run_stopped_early_is_remarked_with_how_long_it_was(make: Make):
    """It proves as much as it ran."""
    stopped = make((), ended=Ended(at(MINUTES_S), EndReason.STOPPED), last_at=at(MINUTES_S))
    assert stopped.judgement.remarks == ("stopped by hand after 10 min of 8 h",)
    assert stopped.bound.hours == pytest.approx(1 / 6)


def test_a_run_that_could_not_go_on_has_failed(make: Make):
    """In the words it ended with."""
    end = Ended(at(MINUTES_S), EndReason.FAILED, "the engine is gone")
    judged = make((), ended=end, last_at=at(MINUTES_S)).judgement
    assert judged.failures == ("the run could not go on: the engine is gone",)


@pytest.mark.parametrize(("after_s", "is_running"), [(30, True), (61, False), (-61, False)])
def test_a_run_without_an_end_still_runs_or_was_broken_off(make: Make, after_s: float, *, is_running: bool):
    """By how long ago it last wrote."""
    judged = make((), ended=None, last_at=at(MINUTES_S), now_s=MINUTES_S + after_s).judgement
    assert judged.is_running == is_running
    assert judged.failures == (() if is_running else ("the run was broken off and never resumed",))


def test_a_run_of_nothing_has_failed(make: Make):
    """No samples, or none with a frame in it."""
    assert make((), iter(())).judgement.failures == ("nothing was watched: there is not one sample",)
    assert make((), iter([Sample(at(5))])).judgement.failures == ("no frame was sent",)


def test_a_hole_in_the_samples_is_not_watched(make: Make):
    """A sample stands for three of its times at the most."""
    given = (each for each in quiet() if not 3_600 <= each.at.run_s < 7_200)
    told = make((), given)
    assert told.judgement.remarks == ("1 h of it were not watched",)
    assert told.night.watched_hours == pytest.approx(7, abs=0.01)
    stream = lanes(told.night, 80)[0]
    assert stream.marks == (Mark.WELL,) * 10 + (Mark.UNWATCHED,) * 9 + (Mark.WELL,) * 61


def test_a_controller_that_misses_a_question_is_remarked_without_an_event(make: Make):
    """And where there is an event, it tells it."""

    def dumb(each: Sample) -> Sample:
        jetty = replace(each.controllers[1], echoes_answered=4)
        return replace(each, controllers=(each.controllers[0], jetty)) if each.at.run_s == 600 else each

    told = make((), map(dumb, quiet()))
    assert told.judgement.remarks == ("jetty answered 40,319 of 40,320 times",)


def test_an_answer_counts_where_it_was_asked_for(make: Make):
    """It may come with the next sample, never, unasked, or after the end."""
    counts = [(2, 1), (2, 3), (2, 0), (2, 5), (2, 2), (2, 2), (2, 1)]
    jetty = [ControllerSample("jetty", asked, answered) for asked, answered in counts]
    samples = [
        Sample(at(5 * turn), frames_sent=200, controllers=(each,)) for turn, each in enumerate(jetty, start=1)
    ]
    end = at(35)
    told = make((), samples, last_at=end, ended=Ended(end, EndReason.TIME_UP))
    assert [each.answers["jetty"].answered for each in told.night.bins] == [2, 2, 2, 2, 2, 2, 2]
    samples[2:4] = [replace(samples[2]), replace(samples[2], at=at(20))]
    told = make((), samples, last_at=end, ended=Ended(end, EndReason.TIME_UP))
    assert [each.answers["jetty"].answered for each in told.night.bins] == [2, 2, 0, 0, 2, 2, 2]
    assert told.judgement.remarks == ("jetty answered 10 of 14 times",)


def test_a_fault_in_the_logbook_is_remarked(make: Make):
    """What a person saw counts."""
    told = make((), None, Findings(faults=("jetty/2",)))
    assert told.judgement.remarks == ("1 string or fixture is at fault by the logbook",)


def test_the_lanes_show_what_was_when(stormy: Report):
    """At a column an hour: the cable at midnight, the other source at two, the busy machine at four."""
    drawn = {each.name: each.marks for each in lanes(stormy.night, 8)}
    assert list(drawn) == ["stream", "network", "boathouse", "jetty", "journal"]
    well, bad = Mark.WELL, Mark.FAILURE
    assert drawn["network"] == (well, well, bad, well, Mark.REMARK, well, well, well)
    assert drawn["jetty"] == (well, well, bad, well, well, well, well, well)
    assert drawn["stream"] == (well,) * 6 + (Mark.REMARK, well)
    assert set(drawn["boathouse"]) == set(drawn["journal"]) == {well}
