"""Frames made ahead: what arrives is what would have arrived, whatever is asked between."""

from collections.abc import Callable, Sequence
from itertools import pairwise
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from patterns.plain import Bytes
from patterns.registry import all_patterns
from streamer.display.patch import StreamKey
from streamer.engine import ahead
from streamer.engine.difference import EVERY, Change
from streamer.engine.messages import Counts, Show
from streamer.engine.portion import FIRST_FRAMES
from streamer.engine.source import Source
from tests.engine.bench import CID, Bench, Sent, assert_unbroken, boathouse, is_dark, play, shows
from tests.engine.drawn import Move, do
from tests.engine.test_currents import assert_held, fused

PATTERNS = [pattern.name for pattern in all_patterns()]

moves = st.one_of(
    st.tuples(st.just("step"), st.integers(-50, 50)),
    st.tuples(st.just("level"), st.integers(1, 100)),
    st.tuples(st.just("pattern"), st.sampled_from(PATTERNS)),
    st.tuples(st.just("rate"), st.sampled_from([1.0, 10.0, 40.0, 44.0])),
    st.tuples(st.just("ports"), st.sampled_from([None, ("jetty/1",)])),
    st.tuples(st.just("hold"), st.booleans()),
    st.tuples(st.just("dark"), st.booleans()),
)
waits = st.integers(0, 900)


def _played(
    first: str, done: Sequence[tuple[int, Move]], frames_ahead: int, *, lets_depart: bool = True
) -> tuple[list[Sent], Counts]:
    """Play, and do things so many milliseconds after one another."""
    with patch.object(ahead, "FRAMES", frames_ahead):
        bench = Bench(source=Source(CID), lets_depart=lets_depart)
        run = bench.start(play(first, pace=15.0))
        for wait_ms, move in done:
            bench.pass_time(wait_ms / 1000)
            do(bench, *move)
        bench.pass_time(1.2)
        counts = run.counts()
        run.end("stopped", bench.now_s)
        bench.pass_time(1)
        return [sent._replace(at_s=round(sent.at_s, 6)) for sent in bench.packets], counts


@pytest.mark.slow
@settings(max_examples=40, deadline=None)
@given(
    first=st.sampled_from(PATTERNS),
    done=st.lists(st.tuples(waits, moves), max_size=8),
    frames=st.integers(1, ahead.FRAMES),
    lets_depart=st.booleans(),
)
def test_the_same_packets_arrive_at_the_same_moments(
    first: str, done: Sequence[tuple[int, Move]], frames: int, *, lets_depart: bool
):
    """To the octet, sequence numbers and all, as without; unless the flash guard had to hold something."""
    plain, plain_counts = _played(first, done, 0, lets_depart=False)
    made, made_counts = _played(first, done, frames, lets_depart=lets_depart)
    assert_unbroken(made)
    if not made_counts.held:
        assert made == plain
        assert made_counts == plain_counts


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(first=st.sampled_from(PATTERNS), done=st.lists(st.tuples(waits, moves), max_size=8))
def test_what_a_picture_is_known_to_change_leaves_nothing_out(first: str, done: Sequence[tuple[int, Move]]):
    """Frame by frame: the same packets as when the flash guard looks at every light each time."""
    with patch("streamer.engine.difference.MANY_NODES", 1):
        known = _played(first, done, 0, lets_depart=False)
        with (
            patch.object(Change, "is_about", lambda *_: False),
            patch("streamer.engine.guard.differing_nodes", lambda *_: EVERY),
        ):
            assert _played(first, done, 0, lets_depart=False) == known


def test_there_are_frames_made_ahead(bench: Bench):
    """Else all here would prove nothing."""
    run = bench.start(play("walk", pace=40.0))
    bench.tick()
    assert run.attention_s == pytest.approx(bench.now_s + FIRST_FRAMES / 40)
    assert run.pieces_s == pytest.approx(bench.now_s + 1 / 40)


@pytest.mark.parametrize(
    ("streams", "frames"), [(10, 80), (11, 72), pytest.param(100, 8, marks=pytest.mark.slow), (101, 0)]
)
def test_of_more_streams_fewer_frames_are_made_ahead(bench: Bench, streams: int, frames: int):
    """What goes in pieces is not made ahead whole."""
    run = bench.start(play("tint", boathouse(*range(1, streams)), pace=40.0))
    bench.tick()
    assert run.frames_ahead == frames
    bench.pass_time(10)
    assert len(bench.window.laid_by) == frames


@pytest.mark.parametrize(("rate_hz", "frames"), [(44, 80), (20, 40), (4, 8), (1.2, 3)])
def test_no_frame_is_made_ahead_for_more_than_so_long(bench: Bench, rate_hz: float, frames: int):
    """With the next ones, a lost cable and another adapter are noticed."""
    bench.start(play("walk", boathouse(1), pace=rate_hz, rate_hz=rate_hz))
    bench.pass_time(10)
    assert len(bench.window.laid_by) == frames


@pytest.mark.parametrize(("of_one_s", "least", "most"), [(0.0001, 75, 80), (0.001, 7, 8), (0.002, 3, 4)])
def test_as_many_are_made_at_a_time_as_are_quickly_made(bench: Bench, of_one_s: float, least: int, most: int):
    """Eight milliseconds, whatever one takes: the next frame is due soon, and is not to wait for them."""
    lay_by = bench.window.lay_by

    def slow(nodes: Bytes, channels: Bytes) -> list[Callable[[], None]]:
        bench.now_s += of_one_s * len(nodes)
        return lay_by(nodes, channels)

    with patch.object(bench.window, "lay_by", slow):
        run = bench.start(play("walk", pace=40.0))
        bench.pass_time(5)
        made = []
        for _ in range(4):
            bench.pass_time(run.attention_s - bench.now_s)
            made.append(len(bench.window.laid_by))
    assert least <= min(made) <= max(made) <= most
    # And as many as ever when it is quick again.
    bench.pass_time(10)
    assert len(bench.window.laid_by) == ahead.FRAMES


def test_of_another_show_few_are_made_at_first(bench: Bench):
    """At another level fuses may have to be reckoned: 80 frames would take as long as one lasts."""
    run = bench.start(play("walk", pace=40.0))
    bench.pass_time(10)
    assert len(bench.window.laid_by) == ahead.FRAMES
    run.change(run.show.model_copy(update={"level_percent": 50.0}), bench.now_s)
    bench.pass_time(0.05)
    assert len(bench.window.laid_by) == FIRST_FRAMES
    bench.pass_time(10)
    assert len(bench.window.laid_by) == ahead.FRAMES


def test_how_long_making_took_is_not_learnt_from_when_somebody_called(bench: Bench):
    """By the next look at the time the caller has been served, and frames have gone by."""
    run = bench.start(play("walk", pace=40.0))
    bench.tick()
    assert not run.depart(lambda _: None, run.attention_s)
    bench.now_s += 0.02
    assert run.depart(lambda moment_s: max(bench.now_s, moment_s), run.attention_s)
    bench.now_s = run.attention_s
    bench.tick()
    assert len(bench.window.laid_by) == FIRST_FRAMES


def test_each_picture_is_shown_as_it_goes(bench: Bench):
    """Once, made ahead or not, and through changes, beside the packets that carry it."""
    bench.start(play("walk", boathouse(10), pace=8.0))
    bench.pass_time(1.3)
    bench.runs[-1].player.step_by(3)
    bench.pass_time(0.6)
    shows(bench, "probe")
    bench.pass_time(0.6)
    sent = [packet.slots[1 : 50 * 3 : 3] for packet in bench.of(10)]
    shown = [frame.nodes[:, 1].tobytes() for frame in bench.window.frames]
    assert _pictures(shown) == _pictures(sent)
    assert len(shown) == len(_pictures(shown)) == 13


def _pictures(frames: Sequence[bytes]) -> list[bytes]:
    """Return each that is another than the one before."""
    return [frame for number, frame in enumerate(frames) if not number or frame != frames[number - 1]]


def test_dark_comes_with_the_next_frame(bench: Bench):
    """Frames that are ready by then are not sent any more."""
    run = bench.start(play("level", pace=40.0, setup={"every_frame": True}))
    bench.pass_time(0.51)
    run.show_dark(bench.now_s, on=True)
    after = bench.pass_time(0.2)
    assert all(is_dark(packet.slots) for packet in after)
    assert {packet.key.universe for packet in after} == {1, 2, 7}
    assert_unbroken(bench.packets)


@pytest.mark.parametrize("universes", [2, pytest.param(120, marks=pytest.mark.slow)])
@pytest.mark.parametrize("pattern", PATTERNS)
@pytest.mark.parametrize("before_s", [0.0, 0.3])
def test_every_light_is_dark_within_two_frames(bench: Bench, pattern: str, universes: int, before_s: float):
    """Made ahead or not, few lights or many, just after something else was asked for, and back again."""
    display = boathouse(*range(1, universes))
    run = bench.start(play(pattern, display))
    bench.pass_time(before_s)
    run.player.step_by(1)
    bench.pass_time(0.04)
    lit = _last_of_each(bench)
    run.show_dark(bench.now_s, on=True)
    bench.pass_time(0.05)
    assert all(map(is_dark, _last_of_each(bench).values()))
    run.show_dark(bench.now_s, on=False)
    bench.pass_time(1.1)
    assert lit == _last_of_each(bench)


def _last_of_each(bench: Bench) -> dict[StreamKey, bytes]:
    """Return what each stream has shown last."""
    return {packet.key: packet.slots for packet in bench.packets}


def test_a_late_engine_skips_frames_that_were_made_ahead(bench: Bench):
    """Asleep past nine moments: the next is that of its own moment, and none of those between is sent."""
    run = bench.start(play("walk", pace=40.0))
    bench.pass_time(0.11)
    before = len(bench.of(1))
    bench.now_s += 0.25
    bench.tick()
    assert len(bench.of(1)) == before + 1
    assert run.counts().skipped == 9
    assert run.player.step == pytest.approx((bench.now_s - bench.packets[0].at_s) * 40, abs=1)
    assert_unbroken(bench.packets)


@pytest.mark.slow
@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(0, 0.0024), min_size=160, max_size=160), st.integers(5, 20))
def test_no_light_flashes_more_than_three_times_a_second_however_late_frames_are(
    lateness_s: list[float], pace: int
):
    """WCAG 2.x, success criterion 2.3.1; a light stepped on and off, each frame sent up to 2.4 ms late."""
    bench = Bench(source=Source(CID))
    run = bench.start(play("walk", boathouse(1), pace=float(pace), params={"window": 1}))
    bench.tick()
    for late_s in lateness_s:
        bench.now_s = run.wake_s + late_s
        bench.tick()
        if int(bench.now_s * 1000) % 7 == 0:
            run.player.jump(run.player.step + (1 if run.player.step % 2 else -1))
    lit = [(packet.at_s, packet.slots[0] > 0 or packet.slots[1] > 0) for packet in bench.of(1)]
    rises = [at_s for (_, was), (at_s, now) in pairwise(lit) if now and not was]
    assert (np.subtract(rises[3:], rises[:-3]) >= 1).all()


def test_status_tells_what_is_sent_not_what_is_ready(bench: Bench):
    """A person reads the number of the node that is lit now."""
    run = bench.start(play("walk", pace=40.0))
    bench.pass_time(0.1)
    assert run.player.step == 4
    assert run.counts().frames == 5


def test_another_show_begins_with_the_next_frame(bench: Bench):
    """And goes on where the one before was, not where it would have been."""
    run = bench.start(play("walk", pace=40.0))
    bench.pass_time(0.1)
    run.change(Show(pattern="walk", pace=40.0, level_percent=50), bench.now_s)
    bench.pass_time(0.026)
    assert run.player.step == 5
    assert max(bench.of(1)[-1].slots) == 127


@pytest.mark.parametrize("step", range(85, 100))
def test_the_very_next_frame_may_be_the_first_that_is_dimmed(bench: Bench, step: int):
    """Let run from just below where fuses and the supply hold a ramp: no frame at all can be made ahead."""
    run = bench.start(play("ramp", fused(), pace=40.0))
    run.player.jump(step)
    bench.pass_time(0.1)
    run.player.in_hand = False
    bench.pass_time(0.5)
    assert run.counts().dimmed > 0
    assert_held(bench)


@pytest.mark.parametrize("rate_hz", [3.0, 10.0, 40.0])
def test_a_keep_alive_while_none_can_be_made_ahead_has_the_number_after_the_last(
    bench: Bench, rate_hz: float
):
    """The flood stands still while a fuse holds the strings: E1.31-2018 6.2.5; Art-Net 4, ArtDmx."""
    run = bench.start(play("ramp", fused(), rate_hz=rate_hz))
    bench.pass_time(8)
    assert run.counts().dimmed > 0
    assert_unbroken(bench.packets)
