"""The front desk: who may do what, what is told to whom, and when a run ends because nobody is there."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from streamer.engine.attendance import FIRST_CLIENT_S, GRACE_S
from streamer.engine.messages import (
    Change,
    Dark,
    Ended,
    Jump,
    Leash,
    Loosen,
    Pause,
    Plan,
    Refusal,
    Refused,
    Request,
    Show,
    State,
    Status,
    Step,
    Stop,
    TakeControl,
)
from streamer.errors import LinkError
from streamer.link.newest import NewestFrame
from tests.engine.bench import boathouse, play
from tests.engine.office import FakeClient, Office


@pytest.fixture(name="office")
def _office(tmp_path: Path) -> Iterator[Office]:
    office = Office(tmp_path)
    yield office
    office.desk.close()


def test_the_first_who_wants_control_has_it_and_the_next_one_watches(office: Office):
    """Both are told who holds it, and which of them that is."""
    first, second = office.come("screen"), office.come("browser")
    status = second.last(Status)
    assert (status.control, status.yours, status.clients) == ("screen", False, ("screen", "browser"))
    assert first.last(Status).yours


def test_frames_that_nobody_looks_at_are_not_shown(office: Office):
    """Who comes back sees the frame of this moment at once, and each one after it."""
    client = office.come()
    office.ask(client, play("walk", pace=16, setup={"leash": Leash.FREE, "spread": 0.5}))
    office.pass_time(1)
    reader = NewestFrame.open(Path(client.last(Plan).frame_path))
    office.go(client)
    number, frame = reader.look()
    office.pass_time(1.5)
    assert reader.look()[0] == number
    office.come()
    seen, there = reader.look()
    assert seen == number + 1
    lit = np.flatnonzero(there.nodes.any(axis=1))
    office.pass_time(0.125)
    assert np.flatnonzero(frame.nodes.any(axis=1)).tolist() != lit.tolist()
    assert np.flatnonzero(reader.look()[1].nodes.any(axis=1)).tolist() == (lit + 2).tolist()


@pytest.mark.parametrize(("first", "then"), [("walk", "probe"), ("probe", "walk")])
def test_who_comes_back_between_two_lay_outs_sees_the_last_frame_of_the_first(
    office: Office, first: str, then: str
):
    """The probe plays more lights than are planned; its first frame is due half a second later."""
    client = office.come()
    office.ask(client, play(first, rate_hz=2, setup={"leash": Leash.FREE}))
    reader = NewestFrame.open(Path(client.last(Plan).frame_path))
    office.pass_time(0.1)
    seen = reader.look()[1].nodes
    office.desk.serve(client, Change(show=Show(pattern=then, rate_hz=2)), office.now_s)
    office.go(client)
    office.come()
    assert np.array_equal(reader.look()[1].nodes, seen)
    office.pass_time(0.5)
    assert not np.array_equal(reader.look()[1].nodes, seen)


def test_a_status_that_is_nearly_due_is_told_with_the_frame_at_hand(office: Office):
    """So the process is woken once, not twice; where nobody listens, nothing is to be told."""
    client = office.come()
    office.ask(client, play("walk"))
    office.desk.tick(office.connected, office.now_s)
    told, told_s = client.count(Status), office.now_s
    assert not office.desk.has_to_tell(told_s + 0.17)
    office.now_s = told_s + 0.19
    assert office.desk.has_to_tell(office.now_s)
    office.desk.tick(office.connected, office.now_s)
    assert client.count(Status) == told + 1
    assert not office.desk.has_to_tell(office.now_s)
    office.connected.clear()
    office.desk.tick(office.connected, office.now_s)
    assert not office.desk.has_to_tell(office.now_s + 1)


@pytest.mark.parametrize(
    "request_",
    [play(), Change(show=Show(pattern="walk")), Step(by=1), Dark(on=True), Stop(), Loosen(leash=Leash.FREE)],
)
def test_a_watcher_is_refused_and_told_who_holds_control(office: Office, request_: Request):
    """Whatever it asks that would change what others see."""
    office.come("screen")
    watcher = office.come("browser", control=False)
    office.ask(watcher, request_)
    refused = watcher.last(Refused)
    assert refused.reason == "screen holds control. Take control first."
    assert (refused.request, refused.why) == (request_.kind, Refusal.NO_CONTROL)


def test_control_can_be_taken(office: Office):
    """From whoever holds it, who is then refused."""
    first, second = office.come("screen"), office.come("browser")
    office.ask(second, TakeControl())
    assert (second.last(Status).control, second.last(Status).yours) == ("browser", True)
    office.ask(first, play())
    assert first.last(Refused).reason.startswith("browser holds control")


def test_control_is_free_when_its_holder_has_gone(office: Office):
    """It falls to nobody by itself; the next who comes and wants it has it."""
    first, watcher = office.come("screen"), office.come("watcher", control=False)
    office.ask(first, play())
    office.go(first)
    office.pass_time(0.3)
    assert watcher.last(Status).control == ""
    office.ask(watcher, play())
    assert watcher.last(Refused).reason == "Nobody holds control. Take control first."
    assert office.come("browser").last(Status).yours


@pytest.mark.parametrize("request_", [TakeControl(), play(), Stop()])
def test_who_has_not_said_hello_is_refused(office: Office, request_: Request):
    """Nobody holds control without a name."""
    stranger = FakeClient()
    office.connected.append(stranger)
    office.ask(stranger, request_)
    assert stranger.last(Refused).reason == "Say hello first."
    assert stranger.last(Refused).why is Refusal.NO_HELLO
    assert office.come("screen").last(Status).yours


@pytest.mark.parametrize(
    "request_",
    [Change(show=Show(pattern="walk")), Step(by=1), Jump(step=1), Pause(on=True), Dark(on=True), Stop()],
)
def test_what_needs_a_run_is_refused_without_one(office: Office, request_: Request):
    """With what to do instead."""
    client = office.come()
    office.ask(client, request_)
    assert client.last(Refused).reason == "Nothing is playing. Start first."
    assert client.last(Refused).why is Refusal.NOTHING_PLAYS


def test_a_name_of_control_characters_is_shown_as_plain_text(office: Office):
    """A client's name ends up on other people's terminals."""
    client = office.come("\x1b[2Jscreen")
    assert client.last(Status).clients == (r"'\x1b[2Jscreen'",)


def test_a_plan_is_told_to_all_and_to_those_who_come_later(office: Office):
    """With the display and where the frame is; a new run has a new plan."""
    first = office.come()
    office.ask(first, play())
    later = office.come("later", control=False)
    assert later.last(Plan) == first.last(Plan)
    assert later.last(Plan).number == later.last(Status).plan == 1
    assert NewestFrame.open(Path(later.last(Plan).frame_path)).look()[0] > 0
    office.ask(first, play("walk", boathouse(5)))
    assert later.last(Plan).number == 2
    assert later.last(Plan).setup.display == boathouse(5)
    assert not Path(office.frames[0].path).exists()


def test_status_comes_five_times_a_second(office: Office):
    """Fifty in ten seconds, one or two more for what was asked."""
    client = office.come()
    office.ask(client, play("walk"))
    before = client.count(Status)
    office.pass_time(10)
    assert 49 <= client.count(Status) - before <= 51


def test_a_client_that_has_not_read_its_last_status_gets_no_other(office: Office):
    """States do not pile up; a refusal is told all the same."""
    client = office.come()
    client.is_waiting = True
    before = client.count(Status)
    office.pass_time(2)
    office.ask(client, Stop())
    assert client.count(Status) == before
    assert client.count(Refused) == 1


def test_requests_act_and_are_seen_in_the_next_status(office: Office):
    """Step, jump, pause, dark, change."""
    client = office.come()
    office.ask(client, play("walk"))
    for request, seen in (
        (Jump(step=7), {"state": State.IN_HAND, "step": 7}),
        (Step(by=-2), {"state": State.IN_HAND, "step": 5}),
        (Pause(on=False), {"state": State.RUNNING, "step": 5}),
        (Pause(on=True), {"state": State.IN_HAND}),
        (Dark(on=True), {"state": State.DARK}),
        (Dark(on=False), {"state": State.IN_HAND}),
        (
            Change(show=Show(pattern="level", level_percent=5)),
            {"show": Show(pattern="level", level_percent=5)},
        ),
    ):
        office.ask(client, request)
        status = client.last(Status)
        assert {name: getattr(status, name) for name in seen} == seen


@pytest.mark.parametrize("leash", Leash)
def test_nobody_attached_ends_a_leashed_run_after_the_grace_and_a_free_one_never(
    office: Office, leash: Leash
):
    """Two seconds; and the engine does not spin while it waits for nobody."""
    client = office.come()
    office.ask(client, play("walk", setup={"leash": leash}))
    office.pass_time(1)
    office.go(client)
    office.pass_time(GRACE_S - 0.1)
    assert len(office.desk.runs) == 1
    assert not office.desk.runs[0].ending_reason
    office.pass_time(0.5)
    assert office.desk.is_done is (leash is Leash.LEASHED)
    office.pass_time(60)
    assert office.desk.is_done is (leash is Leash.LEASHED)
    terminated = [packet for packet in office.bench.packets if packet.is_terminated]
    assert len(terminated) == (6 if leash is Leash.LEASHED else 0)


def test_who_comes_back_within_the_grace_finds_the_run_as_it_was(office: Office):
    """An ssh session that dropped."""
    client = office.come()
    office.ask(client, play("walk"))
    office.go(client)
    office.pass_time(GRACE_S - 0.1)
    back = office.come("screen again")
    office.pass_time(10)
    assert back.last(Status).state is State.RUNNING
    assert back.last(Status).yours


def test_who_only_looks_holds_no_leash(office: Office):
    """One that watches all along, and one that comes and goes twice a second: dark after the grace."""
    client = office.come()
    office.come("watcher", control=False)
    office.ask(client, play("walk"))
    office.pass_time(1)
    office.go(client)
    left_s = office.now_s
    while not office.desk.is_done and office.now_s < left_s + 5:
        look = office.come("a look", control=False)
        assert look.last(Status).leash is Leash.LEASHED
        office.pass_time(0.25)
        office.go(look)
        office.pass_time(0.25)
    terminated = [packet for packet in office.bench.packets if packet.is_terminated]
    assert len(terminated) == 6
    assert GRACE_S < office.now_s - left_s <= GRACE_S + 0.5


def test_a_look_ends_no_engine_whose_starter_is_still_to_come(office: Office):
    """It comes and goes between the start of the process and the first hello."""
    office.go(office.come("a look", control=False))
    office.pass_time(1)
    assert not office.desk.is_done
    assert office.come("starter").last(Status).yours


def test_who_takes_control_minds_the_run_from_then_on(office: Office):
    """A watcher that has taken over: the lights are its own to keep."""
    first, watcher = office.come("screen"), office.come("watcher", control=False)
    office.ask(first, play("walk"))
    office.ask(watcher, TakeControl())
    office.go(first)
    office.pass_time(10)
    assert watcher.last(Status).state is State.RUNNING
    office.go(watcher)
    office.pass_time(GRACE_S + 0.5)
    assert office.desk.is_done


def test_a_free_run_can_be_leashed_again(office: Office):
    """By whoever holds control."""
    client = office.come()
    office.ask(client, play("walk", setup={"leash": Leash.FREE}))
    office.ask(client, Loosen(leash=Leash.LEASHED))
    assert client.last(Status).leash is Leash.LEASHED
    office.go(client)
    office.pass_time(GRACE_S + 0.5)
    assert office.desk.is_done


def test_a_free_run_whose_time_is_up_ends_the_engine_if_nobody_is_attached(office: Office):
    """A night run leaves no process behind."""
    client = office.come()
    office.ask(client, play("walk", setup={"leash": Leash.FREE, "seconds": 30.0}))
    office.go(client)
    office.pass_time(29)
    assert not office.desk.is_done
    office.pass_time(2)
    assert office.desk.is_done


def test_an_engine_to_which_nobody_ever_comes_ends(office: Office):
    """Its starter has died: ten seconds, waking once."""
    office.pass_time(FIRST_CLIENT_S - 0.1)
    assert not office.desk.is_done
    office.pass_time(0.2)
    assert office.desk.is_done


def test_an_idle_engine_ends_as_soon_as_its_last_client_goes(office: Office):
    """There is nothing to come back to."""
    client = office.come()
    office.pass_time(5)
    office.go(client)
    assert office.desk.is_done


def test_a_stopped_run_is_reported_and_the_engine_waits_for_the_next(office: Office):
    """Ended, with the counts; then idle, and ready."""
    client = office.come()
    office.ask(client, play("walk"))
    office.pass_time(1)
    office.ask(client, Stop())
    assert client.last(Status).state is State.ENDING
    office.pass_time(1)
    ended = client.last(Ended)
    assert (ended.reason, ended.counts.frames) == ("stopped", 41)
    assert ended.counts.packets == len(office.bench.packets)
    assert client.last(Status).state is State.IDLE
    office.ask(client, play("walk"))
    assert client.last(Status).state is State.RUNNING


def test_an_engine_that_ends_takes_no_new_run(office: Office):
    """A signal has come; whoever asks is told."""
    client = office.come()
    office.ask(client, play())
    office.desk.end("ended by SIGTERM", office.now_s)
    office.ask(client, play())
    assert client.last(Refused).reason == "The engine is ending. Start another."
    assert client.last(Refused).why is Refusal.ENDING
    office.pass_time(1)
    assert client.last(Ended).reason == "ended by SIGTERM"
    assert office.desk.is_done


def test_a_run_that_cannot_be_had_leaves_the_one_in_progress(office: Office):
    """A wrong pattern, a display that cannot be patched, no room for the frame: the lights stay."""
    client = office.come()
    office.ask(client, play("walk"))
    jetty = boathouse().controllers[0]
    far = jetty.model_copy(update={"ports": (jetty.ports[0].model_copy(update={"universe": 10**9}),)})
    office.ask(client, play("nothing"))
    office.ask(client, play("walk", boathouse().model_copy(update={"controllers": (far,)})))
    office.desk._share = no_room
    office.ask(client, play("level"))
    assert client.count(Refused) == 3
    assert client.last(Refused).reason == "no room"
    assert client.last(Refused).why is Refusal.CANNOT_BE
    office.pass_time(1)
    show = client.last(Status).show
    assert show is not None
    assert show.pattern == "walk"
    assert not any(packet.is_terminated for packet in office.bench.packets)


def no_room(_nodes: int, _channels: int, _laid_by: int) -> NewestFrame:
    """Refuse to make a shared frame."""
    raise LinkError("no room")


def test_a_huge_display_with_many_faults_is_refused_in_a_few_lines(office: Office):
    """A thousand ports on one slot: not a thousand lines."""
    jetty = boathouse().controllers[0]
    ports = tuple(
        jetty.ports[0].model_copy(update={"name": "jetty/1", "number": 1, "colour_order": "XYZ"})
        for _ in range(1000)
    )
    client = office.come()
    crowded = jetty.model_copy(update={"ports": ports})
    office.ask(client, play("walk", boathouse().model_copy(update={"controllers": (crowded,)})))
    assert len(client.last(Refused).reason.splitlines()) <= 20
