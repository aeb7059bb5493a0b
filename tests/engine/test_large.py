"""Large displays: frames made ahead in short that go in pieces, and when they are not made so."""

from collections.abc import Sequence
from contextlib import nullcontext
from itertools import repeat
from pathlib import Path
from unittest.mock import patch

import numpy as np
import pytest

from streamer.display.model import Controller, Display, Protocol
from streamer.engine import ahead, difference, making
from streamer.engine.making import FIRST_FRAMES
from streamer.engine.messages import Status
from streamer.engine.source import Source
from tests.engine.bench import CID, Bench, Sent, assert_unbroken, boathouse, is_dark, play, port, shows
from tests.engine.drawn import Late, Move, as_if_large, assert_in_order, do
from tests.engine.office import Office
from tests.engine.test_currents import assert_held, fused

UNIVERSES = 119
FEW, MANY = boathouse(1, 2, 3), boathouse(*range(1, UNIVERSES + 1))
RATE_HZ, A_LITTLE = 40, 1e-6


def _late(frames: int, late_s: float) -> list[Sent]:
    """Play with so many frames ahead, each begun so late, each piece in time; return what is sent."""
    with patch.object(making, "MANY_NODES", 1), patch.object(making, "FRAMES", frames):
        bench = Bench(source=Source(CID))
        began_s = bench.now_s
        run = bench.start(play("walk", MANY, pace=40.0, setup={"every_frame": True}))

        def wait(moment_s: float) -> float:
            bench.hear()
            frames_since = (moment_s - began_s) * RATE_HZ
            is_frame = abs(frames_since - round(frames_since)) < A_LITTLE
            bench.now_s = max(bench.now_s, moment_s + (late_s if is_frame else 0.0))
            return bench.now_s

        bench.tick()
        until_s = bench.now_s + 1
        while bench.now_s < until_s:
            wait(run.wake_s)
            bench.tick()
            run.depart(wait, run.attention_s)
        bench.hear()
        return [sent._replace(at_s=round(sent.at_s - 1000, 6)) for sent in bench.packets]


def test_a_frame_that_begins_late_is_no_burst():
    """Its pieces are as far apart as ever: buffers of 212,992 octets lose packets that come all at once."""
    assert _late(making.FRAMES, 0.002) == _late(0, 0.002)


@pytest.mark.parametrize(("pattern", "laid_by"), [("ramp", True), ("walk", False)])
def test_of_many_nodes_on_few_universes_pictures_that_change_altogether_are_made_ahead_whole(
    bench: Bench, pattern: str, *, laid_by: bool
):
    """In short, a ramp is as long as in full; whatever comes after it is tried in short again."""
    with patch.object(making, "MANY_NODES", 1), patch.object(difference, "MANY_NODES", 1):
        bench.start(play("ramp", boathouse(1, 2), pace=40.0))
        bench.pass_time(5)
        shows(bench, pattern, pace=40.0)
        bench.pass_time(5)
        bench.window.laid_by = []
        with patch.object(ahead.Ahead, "_begin", autospec=True, side_effect=ahead.Ahead._begin) as begin:
            bench.pass_time(2)
    assert begin.call_count >= 75
    assert bool(bench.window.laid_by) == laid_by


def _played(
    pattern: str, moves: Sequence[Move], frames: int, *, is_large: bool = True, **params: bool
) -> tuple[list[Sent], list[bytes]]:
    """Play, with so many frames ahead, and do one thing after the other; return what is sent and shown."""
    with as_if_large() if is_large else nullcontext(), patch.object(making, "FRAMES", frames):
        bench = Bench(source=Source(CID), lets_depart=frames > 0)
        run = bench.start(play(pattern, FEW, pace=8.0, params=params))
        for number, move in enumerate(moves):
            # Between two frames, at another place each time, and after an odd number of them.
            bench.pass_time(0.33 + number * 0.0035)
            do(bench, *move)
        bench.pass_time(2.5)
        assert not run.counts().held
        packets = [sent._replace(at_s=round(sent.at_s, 6)) for sent in bench.packets]
        shown = [frame.nodes.tobytes() + frame.channels.tobytes() for frame in bench.window.frames]
        return packets, [each for at, each in enumerate(shown) if not at or each != shown[at - 1]]


@pytest.mark.parametrize("pattern", ["walk", "sweep", "bits"])
@pytest.mark.parametrize(
    "moves",
    [
        [("level", 60), ("level", 20), ("ports", ("jetty/2",)), ("ports", None), ("rate", 25.0), ("calm", 2)],
        [("step", 3), ("hold", False), ("jump", 0), ("hold", False), ("pace", 1.0), ("hold", True)],
        [("dark", True), ("dark", False), ("pattern", "level"), ("pattern", "walk"), ("pattern", "fixtures")],
    ],
)
def test_whatever_is_asked_between_each_octet_goes_at_its_moment(pattern: str, moves: Sequence[Move]):
    """The packets, their numbers and what is shown are the same as without frames ahead."""
    assert _played(pattern, moves, making.FRAMES) == _played(pattern, moves, 0)


def test_what_does_not_change_goes_no_more_often_for_that():
    """One string after the other: the others are kept alive, each at its own time (E1.31-2018 6.6.2)."""
    # Just before the end of a string each time, and on into the next.
    moves: list[Move] = [("step", 47), ("hold", False), ("pace", 7.9), ("step", 46), ("hold", False)]
    made = _played("walk", moves, making.FRAMES, together=False)
    assert made == _played("walk", moves, 0, together=False)


@pytest.mark.parametrize("pattern", ["walk", "sweep", "bits"])
@pytest.mark.parametrize("is_large", [False, True])
def test_who_looks_and_looks_away_changes_nothing_that_goes(pattern: str, *, is_large: bool):
    """And sees what goes; what is ready may still be shown when nobody looks any more."""
    looks: list[Move] = [("look", False), ("look", True), ("pace", 0.5), ("look", False), ("look", True)]
    made, plain = (_played(pattern, looks, frames, is_large=is_large) for frames in (making.FRAMES, 0))
    assert made[0] == plain[0]
    assert made[1][-1] == plain[1][-1]
    assert set(plain[1]) <= set(made[1])


def test_for_nobody_nothing_is_shown(bench: Bench):
    """But what was ready when somebody still looked."""
    with as_if_large():
        run = bench.start(play("walk", FEW, pace=40.0))
        bench.pass_time(5)
        run.be_watched(on=False)
        bench.pass_time(making.SPAN_S)
        shown = len(bench.window.frames)
        bench.pass_time(5)
    assert len(bench.window.frames) == shown


def test_a_fixture_goes_out_with_the_first_picture_that_is_let_through(bench: Bench):
    """A picture in short lights none; the one before it may have been held, which would have put it out."""
    with as_if_large():
        bench.start(play("walk", FEW, pace=0.0, setup={"flashes_per_s": 1}))
        bench.pass_time(0.11)
        shows(bench, "fixtures", pace=0.0)
        bench.pass_time(0.85)
        assert any(bench.of(7)[-1].slots)
        shows(bench, "walk", pace=0.0)
        bench.pass_time(1.5)
    assert bench.runs[-1].counts().held == 1
    assert not any(bench.of(7)[-1].slots)


def test_however_late_no_flash_is_remembered_as_sooner_than_it_was_seen():
    """Whether all frames that were ready have gone or some: else the next might come within the second."""
    with as_if_large():
        late = Late(FEW, {}, repeat(0.099), repeat(False))
        late.begin("walk", pace=8.0)
        late.pass_time(3.3)
        late.let_the_rest_go()
        late.run.change(late.run.show, late.bench.now_s)
    lit_s: dict[int, float] = {}
    for frame, at_s in zip(late.window.frames, late.window.shown_s, strict=True):
        lit_s |= dict.fromkeys(np.flatnonzero(frame.nodes.any(axis=1)).tolist(), at_s)
    newest_s = late.run.stage.guard._nodes._flashes_s[-1]
    assert len(lit_s) > 60
    for node, at_s in lit_s.items():
        assert at_s - A_LITTLE <= newest_s[node] <= at_s + 0.1 / RATE_HZ + A_LITTLE


def test_stopped_between_two_pieces_all_goes_dark_and_no_number_is_left_out(bench: Bench):
    """What has not gone of the frame never does: its numbers are the dark's (E1.31-2018 6.2.5)."""
    with patch.object(making, "MANY_NODES", 1):
        run = bench.start(play("walk", MANY, pace=40.0, setup={"every_frame": True}))
        bench.pass_time(0.502)
        run.end("stopped", bench.now_s)
        after = bench.pass_time(1)
    assert all(is_dark(packet.slots) for packet in after)
    assert_unbroken(bench.packets)


def test_an_engine_that_sleeps_in_the_middle_of_a_frame_sends_the_rest_before_the_next(bench: Bench):
    """However late: a number that has been given is not left out (E1.31-2018 6.2.5)."""
    with patch.object(making, "MANY_NODES", 1):
        run = bench.start(play("walk", MANY, pace=40.0, setup={"every_frame": True}))
        bench.pass_time(0.502)
        sent = len(bench.packets)
        bench.now_s = run.next_frame_s
        bench.tick()
        assert len(bench.packets) > sent
        bench.pass_time(0.5)
    assert_unbroken(bench.packets)


def test_a_fuse_holds_what_is_known_in_short(bench: Bench):
    """More and more lights in white, up to all, on strings whose fuses carry little more than half."""
    with as_if_large():
        run = bench.start(play("walk", fused(), pace=40.0, params={"window": 100, "colour": "white"}))
        bench.pass_time(3)
        assert run.counts().dimmed > 0
    assert_held(bench)


def _burst_after_the_probe(frames: int, wait_s: float) -> list[Sent]:
    with patch.object(making, "FRAMES", frames):
        bench = Bench(source=Source(CID), lets_depart=frames > 0)
        bench.start(play("probe", boathouse(10)))
        bench.pass_time(1.01)
        shows(bench, "walk")
        bench.pass_time(wait_s)
        shows(bench, "burst")
        bench.pass_time(3)
        return [sent._replace(at_s=round(sent.at_s, 6)) for sent in bench.packets]


@pytest.mark.parametrize("wait_s", [0.12, 0.145, 0.17])
def test_a_burst_is_not_made_ahead_while_streams_of_the_probe_are_still_taking_leave(wait_s: float):
    """Each of its pictures goes out once; when they have left, nobody takes it for what was played before."""
    assert _burst_after_the_probe(making.FRAMES, wait_s) == _burst_after_the_probe(0, wait_s)


@pytest.mark.parametrize("display", [FEW, MANY])
def test_frames_that_are_ready_stay_so_when_it_is_told_how_things_stand(tmp_path: Path, display: Display):
    """Five times a second, while a screen is attached; and the engine does not sleep past a frame for it."""
    office = Office(tmp_path)
    client = office.come()
    office.ask(client, play("walk", display, pace=8.0))
    office.play_for(5)
    told, frames = client.count(Status), client.last(Status).counts.frames
    with patch.object(ahead.Ahead, "make", autospec=True, side_effect=ahead.Ahead.make) as make:
        office.play_for(10)
    assert client.count(Status) >= told + 45
    assert make.call_count <= 30
    assert client.last(Status).counts.frames - frames == pytest.approx(10 * RATE_HZ, abs=0.3 * RATE_HZ)
    assert client.last(Status).counts.skipped == 0
    office.desk.close()


def test_attention_is_due_when_the_last_piece_of_the_last_frame_goes(bench: Bench):
    """Looked at in the middle of that frame, too: else the engine would sleep past the next one."""
    run = bench.start(play("walk", MANY, pace=40.0, setup={"every_frame": True}))
    bench.pass_time(0.2)
    last_s = run.attention_s
    assert not run.depart(lambda moment_s: moment_s, last_s - 0.004)
    assert run.attention_s == pytest.approx(last_s)


def test_packets_of_many_lengths_are_no_reason_to_make_none_ahead(bench: Bench):
    """Five controllers, each with another number of slots: in short, no frame is a copy of its own."""
    controllers = tuple(
        Controller(
            name=f"shed {slots}",
            protocol=Protocol.E131,
            address=f"127.0.0.{slots // 100}",
            slots=slots,
            ports=(port(1, slots, 30, f"shed {slots}"),),
        )
        for slots in (100, 200, 300, 400, 500)
    )
    with as_if_large():
        run = bench.start(play("walk", Display(name="sheds", controllers=controllers), pace=40.0))
        began_s = bench.now_s
        bench.pass_time(0.011)
        assert run.attention_s > began_s + FIRST_FRAMES / 40
        bench.pass_time(3)
    assert_in_order(bench.packets)
