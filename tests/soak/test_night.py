"""A night, moment by moment, by clocks that go as they are told: nothing here sleeps."""

import math
from collections.abc import Iterator
from pathlib import Path

import pytest

from streamer.engine.messages import (
    Change,
    Counts,
    Dark,
    Ended,
    Lateness,
    Pause,
    Plan,
    Play,
    Refusal,
    Refused,
    Setup,
    State,
    Status,
    Stop,
    TakeControl,
)
from streamer.errors import JournalFullError, LinkError, NetworkError
from streamer.soak.findings import Finding
from streamer.soak.journal import Journal, reading
from streamer.soak.night import Deadline, Night
from streamer.soak.programme import parse_programme
from streamer.soak.records import EndReason, Event, EventKind, Sample, Severity
from streamer.soak.watches.stream import Stream
from tests.soak.conftest import Clocks, facts
from tests.soak.fakes import SETUP, Engine, Listening, Told

HOUR_S = 3600.0
DAY_S = 24 * HOUR_S
RATE_HZ = 40


class Rig:
    """A night of eight hours with an engine, a watch and a journal."""

    def __init__(
        self, path: Path, clocks: Clocks, *, asked_s: float = 8 * HOUR_S, by_the_wall: bool = False
    ) -> None:
        self.path, self.clocks = path, clocks
        self.engines: list[Engine] = []
        self.looks_before_engine = 0
        self.refusing: list[Exception] = []
        self.watch, self.told = Told(), Listening()
        self.journal = Journal(path)
        self.pen = self.journal.resume(*clocks.now) or self.journal.begin(facts(asked_s=asked_s), *clocks.now)
        self.stream = Stream(SETUP, self._start, self.pen.darkened_by)
        self.night = Night(
            pen=self.pen,
            stream=self.stream,
            watches=[self.watch],
            programme=parse_programme("full:60s,dark:30s", "here"),
            show=lambda standing: standing.look.show(30.0, RATE_HZ),
            deadline=Deadline(asked_s, by_the_wall),
            teller=self.told,
        )
        self.night.begin(*clocks.now)

    def close(self) -> None:
        """Let go of everything; the journal is as kill -9 would leave it."""
        self.night.close()
        self.journal.close()

    def _start(self) -> Engine:
        if self.refusing:
            raise self.refusing.pop(0)
        if not self.engines:
            self.looks_before_engine = self.watch.looks
        self.engines.append(Engine())
        return self.engines[-1]

    def go(self, seconds: float, each_s: float = 1.0, *, playing: bool = True) -> None:
        """Let time pass, the engine playing on unless it does not."""
        for _ in range(round(seconds / each_s)):
            self.clocks.go(each_s)
            if playing and not self.engines[-1].is_gone:
                self.engines[-1].play(round(RATE_HZ * each_s))
            self.night.tick(*self.clocks.now)

    def events(self) -> list[Event]:
        """Return what the journal holds, without the beginning."""
        with reading(self.path) as reader:
            return [each for each in reader.events(1) if each.kind is not EventKind.STARTED]

    def samples(self) -> list[Sample]:
        """Return what the journal holds."""
        with reading(self.path) as reader:
            return list(reader.samples(1))


@pytest.fixture(name="rig")
def _rig(path: Path, clocks: Clocks) -> Iterator[Rig]:
    rig = Rig(path, clocks)
    yield rig
    rig.close()


def test_a_sample_is_written_every_five_seconds_with_what_was_sent_in_them(rig: Rig):
    """No frame is counted twice, and none is left out."""
    rig.go(60)
    samples = rig.samples()
    assert [round(each.at.run_s) for each in samples] == list(range(5, 65, 5))
    assert sum(each.frames_sent for each in samples) == 60 * RATE_HZ
    assert {each.lateness.max_ms for each in samples} == {0.18}


def test_the_programme_is_shown_and_a_look_is_sent_once(rig: Rig):
    """Full for a minute, dark for half of one."""
    rig.go(100)
    assert [show.params["value"] for show in rig.engines[0].shows] == [255, 0, 255]
    assert {each.step for each in rig.samples()} == {0, 1}


def test_what_goes_while_the_stream_begins_is_told_from_what_there_was(rig: Rig):
    """Every watch has looked once when the first frame leaves: an address lost right then is told as lost."""
    assert rig.looks_before_engine == 1


def test_what_lasts_is_one_event_from_when_to_when(rig: Rig):
    """It is written when it begins, and its end when it is over."""
    rig.go(10)
    rig.watch.found = [Finding(EventKind.LINK_DOWN, "shed0", "it is switched off")]
    rig.go(7)
    (event,) = rig.events()
    assert event.ended_at is None
    rig.watch.found = []
    rig.go(5)
    (event,) = rig.events()
    assert (event.kind, event.subject) == (EventKind.LINK_DOWN, "shed0")
    assert event.began_at.run_s == pytest.approx(11)
    assert event.length_s == pytest.approx(7)
    assert rig.night.failures == 1


@pytest.mark.parametrize("each_s", [1, 3.3])
def test_refusals_that_come_again_are_one_event_with_its_end_and_their_number(rig: Rig, each_s: float):
    """While a cable is out, Linux says EHOSTUNREACH once in 3 s and a little (arp(7)); nine times here."""
    rig.go(10)
    for _ in range(9):
        rig.engines[0].play(1, EHOSTUNREACH=2)
        rig.go(each_s, each_s)
    rig.go(15)
    (event,) = rig.events()
    assert (event.kind, event.subject) == (EventKind.SEND_ERROR, "EHOSTUNREACH")
    assert event.words.startswith("18 packets refused: nothing answers at that address.")
    assert event.length_s == pytest.approx(8 * each_s)
    assert sum(each.errors.get("EHOSTUNREACH", 0) for each in rig.samples()) == 18


def test_refusals_that_last_to_the_end_are_told_with_their_number(rig: Rig):
    """The event ends with the last of them, not with the run."""
    rig.go(10)
    rig.engines[0].play(1, ENETUNREACH=1)
    rig.go(3)
    rig.night.end(EndReason.STOPPED, *rig.clocks.now)
    (event,) = rig.events()
    assert event.words.startswith("1 packet refused: this machine has no way to that network.")
    assert event.length_s == 0


def test_an_engine_that_goes_is_started_anew_and_the_gap_is_told(rig: Rig):
    """The stream comes back within two seconds, with what is up by then; counts go on."""
    rig.go(10)
    rig.engines[0].vanish()
    rig.go(2, 0.1)
    assert len(rig.engines) == 2
    rig.go(10)
    (event,) = rig.events()
    assert event.kind is EventKind.STREAM_STOPPED
    assert event.severity is Severity.FAILURE
    assert event.length_s is not None
    assert event.length_s < 2
    assert rig.night.sent == pytest.approx(22 * RATE_HZ, abs=RATE_HZ)


def test_an_engine_that_cannot_be_started_is_tried_until_it_can(rig: Rig):
    """Once a second; nothing is raised, and the words say why."""
    rig.go(5)
    rig.refusing = [
        LinkError("no room for another process"),
        NetworkError("it is down", "shed0", "Switch it on"),
    ]
    rig.engines[0].vanish()
    rig.go(6, 0.1)
    assert not rig.refusing
    assert len(rig.engines) == 2
    rig.go(2)
    assert [event.kind for event in rig.events()] == [EventKind.STREAM_STOPPED]


def test_an_engine_that_stands_still_is_told_since_it_was_heard_last(rig: Rig):
    """It says its state five times a second."""
    rig.go(5)
    rig.go(6, playing=False)
    (event,) = rig.events()
    assert "stands still" in event.words
    assert event.severity is Severity.FAILURE
    rig.go(2)
    (event,) = rig.events()
    assert [event.began_at.run_s, event.length_s] == [pytest.approx(5), pytest.approx(7)]


def test_an_engine_that_is_slow_to_begin_has_not_stopped(rig: Rig):
    """On a busy machine a process takes seconds to start; nothing was lit before."""
    rig.clocks.go(8)
    rig.night.tick(*rig.clocks.now)
    rig.go(5)
    assert rig.events() == []


def test_a_stop_that_no_receiver_notices_is_lateness_and_spoils_no_night(rig: Rig):
    """ANSI E1.31-2018 clause 6.7.1: a source is lost after 2.5 s."""
    rig.go(5)
    rig.go(2.4, 0.1, playing=False)
    rig.go(5)
    assert rig.events() == []
    rig.go(2.6, 0.1, playing=False)
    rig.go(5)
    (event,) = rig.events()
    assert event.kind is EventKind.STREAM_STOPPED
    assert event.length_s is not None
    assert event.length_s >= 2.5


def held(rig: Rig, seconds: float, *, engine_too: bool) -> None:
    """Let the run be held for a while, as by SIGSTOP, and its engine too or not."""
    before = rig.clocks.now
    rig.clocks.go(seconds)
    if not engine_too:
        rig.engines[0].play(round(seconds * RATE_HZ))
    rig.night.waited(0.1, before, rig.clocks.now)
    rig.night.tick(*rig.clocks.now)


def test_a_run_that_was_held_while_its_engine_went_on_is_a_remark(rig: Rig):
    """Ctrl-Z and fg: no frame is missing."""
    rig.go(10)
    held(rig, 30, engine_too=False)
    rig.go(10)
    (event,) = rig.events()
    assert (event.kind, event.severity) == (EventKind.ASLEEP, Severity.REMARK)
    assert rig.night.failures == 0


def test_a_stop_that_is_over_before_anybody_could_look_is_told_by_its_missing_frames(rig: Rig):
    """Held together, and the engine the first to wake."""
    rig.go(10)
    before = rig.clocks.now
    rig.clocks.go(60)
    rig.engines[0].play(1)
    rig.night.waited(0.1, before, rig.clocks.now)
    rig.night.tick(*rig.clocks.now)
    rig.go(10)
    (event,) = [event for event in rig.events() if event.kind is EventKind.STREAM_STOPPED]
    assert event.began_at.run_s == pytest.approx(10)
    assert event.length_s == pytest.approx(60, abs=0.1)
    assert event.severity is Severity.FAILURE


def test_who_stops_the_stream_by_hand_ends_the_night(rig: Rig):
    """A person's word counts: it is not started anew."""
    engine = rig.engines[0]
    engine.say(Ended(reason="stopped", counts=engine.counts, lateness=engine.lateness, seconds=5))
    rig.go(2, playing=False)
    assert "ropewalk stop" in rig.night.stopped_by
    assert len(rig.engines) == 1
    assert rig.events() == []


def test_lights_made_dark_by_hand_are_told(rig: Rig):
    """From a screen that has attached itself: what is seen is not the programme then."""
    rig.engines[0].say(rig.engines[0].status(State.DARK))
    rig.go(1, playing=False)
    (event,) = rig.events()
    assert (event.kind, event.subject) == (EventKind.DARKENED, "somebody")


def test_a_watch_that_cannot_see_is_told_and_tried_again(rig: Rig):
    """It costs neither the run nor the other watches."""
    rig.watch.error = OSError(24, "Too many open files")
    rig.go(15)
    (event,) = rig.events()
    assert (event.kind, event.subject, event.severity) == (EventKind.NOTE, "what is told", Severity.REMARK)
    assert "Too many open files" in event.words
    rig.watch.error = None
    rig.go(15)
    assert rig.events()[0].ended_at is not None


def test_a_sleeping_machine_is_told_with_its_length_and_samples_do_not_come_in_a_burst(rig: Rig):
    """As after SIGSTOP and SIGCONT, or with the lid closed."""
    rig.go(10)
    held(rig, 600, engine_too=True)
    rig.go(10)
    stopped, asleep = rig.events()
    assert (stopped.kind, asleep.kind) == (EventKind.STREAM_STOPPED, EventKind.ASLEEP)
    for event in (stopped, asleep):
        assert event.began_at.run_s == pytest.approx(10)
        assert event.length_s == pytest.approx(600, abs=1)
    assert rig.night.failures == 1
    assert len(rig.samples()) <= 2 + 1 + 3


def test_a_busy_machine_is_not_taken_for_a_sleeping_one(rig: Rig):
    """Half a second late is load."""
    before = rig.clocks.now
    rig.clocks.go(0.6)
    rig.night.waited(0.1, before, rig.clocks.now)
    rig.go(1)
    assert rig.events() == []


@pytest.mark.parametrize(("step_s", "words"), [(3600.0, "forwards by 1 h"), (-3600.0, "backwards by 1 h")])
def test_a_clock_that_is_set_is_told_and_neither_ends_nor_lengthens_a_run_of_eight_hours(
    rig: Rig, step_s: float, words: str
):
    """The run goes by a clock that is never set."""
    rig.go(10)
    rig.clocks.unix_s += step_s
    rig.go(10)
    (event,) = rig.events()
    assert event.kind is EventKind.CLOCK_STEPPED
    assert words in event.words
    assert event.severity is Severity.REMARK
    assert rig.night.left_s == pytest.approx(8 * HOUR_S - 20)
    assert [round(each.at.run_s) for each in rig.samples()] == [5, 10, 15, 20]


@pytest.mark.parametrize(
    ("step_s", "left_s"),
    [
        (HOUR_S, 7 * HOUR_S),
        (-HOUR_S, 9 * HOUR_S),
        (9 * HOUR_S, 0.0),
        # A machine without a clock of its own learns the date: the time of day still holds.
        (3 * DAY_S + HOUR_S, 7 * HOUR_S),
        (-3 * DAY_S, 8 * HOUR_S),
    ],
)
def test_a_run_until_six_ends_at_six_by_the_clock_as_it_is_set(step_s: float, left_s: float):
    """Begun at ten in the evening, the clock set at once."""
    deadline = Deadline(8 * HOUR_S, by_the_wall=True)
    deadline.step(step_s, 0.0)
    assert max(0.0, deadline.at_run_s) == pytest.approx(left_s)


def test_it_ends_when_the_time_is_up(rig: Rig):
    """Dark, terminated, and the journal knows why."""
    rig.night.deadline.at_run_s = 30
    rig.go(29)
    rig.go(1, playing=False)
    assert_ended_well(rig)
    with reading(rig.path) as reader:
        (run,) = reader.runs()
    assert run.ended is not None
    assert run.ended.reason is EndReason.TIME_UP
    assert run.ended.at.run_s == pytest.approx(30)
    assert rig.night.is_over


def test_it_ends_early_when_asked_and_says_so(rig: Rig):
    """Ctrl-C: what is open is closed with it."""
    rig.watch.found = [Finding(EventKind.LINK_DOWN, "shed0", "it is switched off")]
    rig.go(9)
    rig.night.end(EndReason.STOPPED, *rig.clocks.now, words="by SIGINT")
    assert_ended_well(rig)
    with reading(rig.path) as reader:
        (run,) = reader.runs()
    assert run.ended is not None
    assert (run.ended.reason, run.ended.words) == (EndReason.STOPPED, "by SIGINT")
    assert all(event.ended_at is not None for event in rig.events())


def assert_ended_well(rig: Rig) -> None:
    """Hold the engine to have been asked for the end, and let go."""
    assert any(isinstance(message, Stop) for message in rig.engines[-1].asked)
    assert not rig.engines[-1].is_open


def test_a_full_disk_is_told_once_and_the_lights_go_on(rig: Rig, monkeypatch: pytest.MonkeyPatch):
    """The journal's own tests fill a disk; here the pen says so, for ten minutes."""
    full = JournalFullError("the disk is full", "display.toml.soak", "Make room")

    def refuse(*_: object) -> None:
        raise full

    with monkeypatch.context() as patched:
        for name in ("sample", "note", "close"):
            patched.setattr(rig.pen, name, refuse)
        rig.go(600)
    assert len(rig.told.troubles) == 1
    assert "the disk is full" in rig.told.troubles[0]
    assert "lights go on" in rig.told.troubles[0]
    rig.go(10)
    assert rig.night.sent == pytest.approx(610 * RATE_HZ)
    assert math.isclose(rig.samples()[-1].at.run_s, 610)


def test_a_storm_of_findings_is_bounded(rig: Rig):
    """Two hundred at once are followed, the rest is counted."""
    rig.watch.found = [Finding(EventKind.NOTE, str(number), "so") for number in range(1000)]
    rig.go(2)
    assert len(rig.night.episodes.open) == 200
    assert rig.night.episodes.passed_over == 2 * 800


OTHER = "screen, process 12"


def say(rig: Rig, control: str, state: State = State.RUNNING, *, yours: bool = False) -> None:
    """Let the engine say who holds control, and let the night hear it."""
    engine = rig.engines[-1]
    engine.say(engine.status(state).model_copy(update={"control": control, "yours": yours}))
    rig.go(1, playing=False)


def test_who_takes_control_holds_the_programme_up_and_the_journal_tells_it(rig: Rig):
    """A remark from when to when, and no failure: nothing was wrong with the display."""
    say(rig, OTHER)
    rig.engines[0].asked.clear()
    for _ in range(70):
        say(rig, OTHER)
    assert rig.engines[0].asked == [], "the next part of the programme is not forced on them"
    (event,) = rig.events()
    assert (event.kind, event.subject, event.severity) == (EventKind.CONTROL_TAKEN, OTHER, Severity.REMARK)
    say(rig, "")
    assert rig.engines[0].asked == [
        TakeControl(), Change(show=rig.engines[0].asked[1].show), Pause(on=False)  # type: ignore[attr-defined]
    ]  # fmt: skip
    assert rig.engines[0].shows[-1].params["value"] == 0, "where the programme is by then: dark"
    say(rig, "ropewalk soak", yours=True)
    (event,) = rig.events()
    assert event.length_s == pytest.approx(71, abs=2)
    assert (rig.night.failures, len(rig.engines)) == (0, 1)


def test_who_takes_control_to_end_the_run_makes_no_remark(rig: Rig):
    """That it was stopped by hand is told already."""
    say(rig, "ropewalk stop, process 12")
    assert rig.events() == []


def darkened(rig: Rig) -> list[Event]:
    """Return what the journal tells of darkness made by hand."""
    return [each for each in rig.events() if each.kind is EventKind.DARKENED]


def test_what_somebody_made_dark_stays_dark_until_a_person_lights_it(rig: Rig):
    """They may be at the wiring still; the journal tells from when to when, and who did it."""
    say(rig, OTHER)
    say(rig, OTHER, State.DARK)
    say(rig, "", State.DARK)
    assert not [each for each in rig.engines[0].asked if isinstance(each, Dark)], "it stays as it is"
    for _ in range(60):
        say(rig, "ropewalk soak", State.DARK, yours=True)
    (event,) = darkened(rig)
    assert (event.subject, event.severity, event.ended_at) == (OTHER, Severity.REMARK, None)
    say(rig, "screen, process 13")
    (event,) = darkened(rig)
    assert event.subject == OTHER
    assert event.length_s == pytest.approx(62, abs=2)


def test_held_and_then_dark_are_told_apart(rig: Rig):
    """A journal that goes on saying "held" would hide that nothing was lit."""
    say(rig, OTHER, State.IN_HAND)
    say(rig, OTHER, State.DARK)
    (held,) = (each for each in rig.events() if each.subject == "by hand")
    assert held.ended_at is not None
    assert [each.ended_at for each in darkened(rig)] == [None]


def test_what_was_dark_by_hand_is_dark_in_the_engine_that_is_started_anew(rig: Rig):
    """However the first one ends; no frame of the second is lit before it is dark."""
    say(rig, OTHER, State.DARK)
    rig.engines[0].vanish()
    rig.go(3, playing=False)
    play, dark, change = rig.engines[1].asked
    assert (isinstance(play, Play) and play.show.level_percent, dark) == (0, Dark(on=True))
    assert isinstance(change, Change)
    assert change.show.level_percent == 30
    say(rig, "ropewalk soak", State.DARK, yours=True)
    (event,) = darkened(rig)
    assert (event.subject, event.ended_at) == (OTHER, None)


@pytest.mark.parametrize("kills", [1, 2])
def test_what_was_dark_by_hand_is_dark_in_a_run_that_is_taken_up(
    rig: Rig, path: Path, clocks: Clocks, kills: int
):
    """After kill -9 of the run itself: no frame is lit before it is dark, and the journal says who did it."""
    say(rig, OTHER, State.DARK)
    for _ in range(kills):
        rig.close()
        clocks.go(60)
        rig = Rig(path, clocks)
    play, dark, change = rig.engines[0].asked
    assert (isinstance(play, Play) and play.show.level_percent, dark) == (0, Dark(on=True))
    assert isinstance(change, Change)
    rig.go(2)
    say(rig, "ropewalk soak", State.DARK, yours=True)
    open_ = [each for each in rig.events() if each.ended_at is None]
    assert [(each.kind, each.subject) for each in open_] == [(EventKind.DARKENED, OTHER)]
    assert len(darkened(rig)) == kills + 1, "one for each time it was taken up, and no more"
    say(rig, "screen, process 13")
    assert all(each.ended_at for each in darkened(rig))
    rig.close()


def test_what_was_lit_again_is_lit_in_a_run_that_is_taken_up(rig: Rig, path: Path, clocks: Clocks):
    """A person's last word counts."""
    say(rig, OTHER, State.DARK)
    say(rig, OTHER)
    rig.close()
    clocks.go(60)
    again = Rig(path, clocks)
    assert [type(each) for each in again.engines[0].asked] == [Play]
    assert again.engines[0].shows[0].level_percent == 30
    again.close()


def test_what_somebody_else_put_up_is_replaced_when_they_leave(rig: Rig):
    """By the night's own display; frames of each are counted from its own beginning."""
    other = Setup(display=SETUP.display.model_copy(update={"name": "other"}))
    rig.go(5)
    engine = rig.engines[0]
    engine.say(
        Plan(number=2, setup=other, frame_path="", cid=""), Status(state=State.RUNNING, plan=2, control=OTHER)
    )
    rig.go(1, playing=False)
    say(rig, "")
    assert [each for each in engine.asked if isinstance(each, Play)][-1].setup == SETUP
    assert rig.night.sent >= 5 * RATE_HZ


def test_what_somebody_else_put_up_and_made_dark_stays_dark_too(rig: Rig):
    """The night's own display is laid out anew, and lit by nobody."""
    other = Setup(display=SETUP.display.model_copy(update={"name": "other"}))
    engine = rig.engines[0]
    engine.say(
        Plan(number=2, setup=other, frame_path="", cid=""), Status(state=State.DARK, plan=2, control=OTHER)
    )
    rig.go(1, playing=False)
    engine.asked.clear()
    say(rig, "", State.DARK)
    assert [type(each) for each in engine.asked] == [TakeControl, Play, Dark, Change]
    assert isinstance(engine.asked[1], Play)
    assert engine.asked[1].show.level_percent == 0


def test_control_that_was_taken_and_left_unseen_is_taken_back(rig: Rig):
    """A status comes five times a second: who is gone by the next one is never named."""
    rig.engines[0].asked.clear()
    rig.engines[0].say(Refused(request="change", why=Refusal.NO_CONTROL, reason="Not in these hands."))
    say(rig, "")
    assert rig.engines[0].asked[0] == TakeControl()
    assert rig.night.failures == 0


def test_a_change_that_is_refused_for_want_of_control_is_no_failure(rig: Rig):
    """The refusal may come before it is known who has control; any other refusal is a stop of the stream."""
    rig.engines[0].say(Refused(request="change", why=Refusal.NO_CONTROL, reason="Not in these hands."))
    say(rig, OTHER)
    assert rig.night.failures == 0
    say(rig, "ropewalk soak", yours=True)
    rig.engines[0].say(Refused(request="change", why=Refusal.CANNOT_BE, reason="There is no such pattern."))
    say(rig, "ropewalk soak", yours=True)
    assert rig.night.failures == 1


def test_a_change_that_comes_after_the_end_is_answered_by_the_end(rig: Rig):
    """As after `ropewalk stop`: that ends the night, and no engine is begun instead."""
    say(rig, "ropewalk soak", yours=True)
    late = Refused(request="change", why=Refusal.NOTHING_PLAYS, reason="Nothing is playing.")
    ended = Ended(reason="stopped", counts=Counts(), lateness=Lateness(), seconds=1)
    rig.engines[0].say(late, ended)
    rig.go(1, playing=False)
    assert rig.night.stopped_by
    assert len(rig.engines) == 1
    assert rig.night.failures == 0
