"""Frames made ahead on any display, however late: what is sent, shown and remembered is one."""

from itertools import cycle, pairwise
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from streamer.display.patch import StreamKey
from streamer.engine import difference, making
from streamer.engine.clock import LATE_SHARE
from streamer.engine.guard import FlashGuard
from streamer.engine.messages import Counts
from streamer.engine.source import Source
from tests.engine.bench import CID, Bench, Sent, play
from tests.engine.drawn import (
    AT_HOME,
    RATES_HZ,
    Evening,
    Late,
    as_if_large,
    assert_calm,
    assert_in_order,
    do,
    evenings,
    levels_of,
)

LATENESS = [0.0, 0.0, 0.001, 0.05, 0.099, 0.101, 0.4, 2.2]
"""In parts of a frame; from a tenth on it counts as late."""
PIECES_MOST = 6
"""Of a drawn frame, two packets each: so many waits may be late between two packets of a stream."""
SILENT_MOST_S = 1.0
"""ANSI E1.31-2018 clause 6.6.2: a keep-alive every 800 to 1000 ms."""


def _played(evening: Evening, frames: int) -> tuple[list[Sent], Counts, list[bytes]]:
    """Play in time, so many frames ahead; return the packets, the counts, and the pictures shown."""
    with patch.object(making, "FRAMES", frames):
        bench = Bench(source=Source(CID), lets_depart=frames > 0)
        run = bench.start(
            play(evening.pattern, evening.display, setup=evening.setup, rate_hz=evening.rate_hz)
        )
        for wait_s, move in evening.done:
            bench.pass_time(wait_s)
            if not run.ending_reason:
                do(bench, *move)
        bench.pass_time(2.5)
        counts = run.counts()
        run.end("stopped", bench.now_s)
        bench.pass_time(1)
        shown = [frame.nodes.tobytes() + frame.channels.tobytes() for frame in bench.window.frames]
        packets = [sent._replace(at_s=round(sent.at_s, 6)) for sent in bench.packets]
        return packets, counts, [each for at, each in enumerate(shown) if not at or each != shown[at - 1]]


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(evenings(), st.integers(1, making.FRAMES))
def test_any_display_gets_the_same_packets_and_the_same_pictures(evening: Evening, frames: int):
    """To the octet and the moment, in time, unless the flash guard had to hold something."""
    plain, made = _played(evening, 0), _played(evening, frames)
    assert_in_order(made[0])
    if not made[1].held:
        assert made == plain


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(
    evening=evenings(AT_HOME),
    lateness=st.lists(st.sampled_from(LATENESS), min_size=1, max_size=50),
    calls=st.lists(st.sampled_from([False, False, False, True]), max_size=30),
)
def test_however_late_what_is_sent_is_what_is_shown_and_remembered(
    evening: Evening, lateness: list[float], calls: list[bool]
):
    """Numbers in order, lights calm, streams alive; the picture shown is the one in the packets."""
    _play_late(evening, lateness, calls)


def _play_late(evening: Evening, lateness: list[float], calls: list[bool], waits: int = 1) -> None:
    setup = {**evening.setup, "seconds": None}
    late = Late(evening.display, setup, cycle(lateness), cycle([*calls, False]))
    late.begin(evening.pattern, rate_hz=evening.rate_hz, level_percent=100)
    for wait_s, move in evening.done:
        late.pass_time(wait_s)
        do(late.bench, *move)
    late.pass_time(1.2)
    late.let_the_rest_go()
    assert_in_order(late.bench.packets)
    _assert_shown(late)
    calmed = [int(str(value)) for _, (what, value) in evening.done if what == "calm"]
    assert_calm(late.bench.packets, max(setup["flashes_per_s"], *calmed, 0))
    _assert_alive(late, waits * max(lateness))
    _assert_remembered(late)


@pytest.mark.slow
@settings(max_examples=100, deadline=None)
@given(evenings(), st.integers(1, making.FRAMES))
def test_so_do_large_displays_whose_frames_go_in_pieces(evening: Evening, frames: int):
    """Made ahead by what they change, and what is left of a frame that has begun when somebody asks."""
    with as_if_large():
        plain, made = _played(evening, 0), _played(evening, frames)
    assert_in_order(plain[0])
    if not made[1].held:
        assert made == plain


@pytest.mark.slow
@settings(max_examples=100, deadline=None)
@given(
    evening=evenings(AT_HOME),
    lateness=st.lists(st.sampled_from(LATENESS), min_size=1, max_size=50),
    calls=st.lists(st.sampled_from([False, False, False, True]), max_size=30),
)
def test_large_displays_too_are_shown_and_remembered_as_sent(
    evening: Evening, lateness: list[float], calls: list[bool]
):
    """Whoever calls, also between two pieces of a frame."""
    with as_if_large():
        _play_late(evening, lateness, calls, waits=PIECES_MOST)


def _assert_shown(late: Late) -> None:
    """Hold the window against the newest packets."""
    first = 0
    for port, levels in levels_of(late.display, late.received()):
        shown = late.window.frames[-1].nodes[first : first + port.nodes, :3]
        first += port.nodes
        assert levels is not None
        assert np.array_equal(levels, shown)


def _assert_alive(late: Late, latest: float) -> None:
    """No stream is silent for longer than the standard allows, and the engine was late."""
    slowest_s = 1 / min(RATES_HZ)
    sent_s: dict[StreamKey, list[float]] = {}
    for packet in late.bench.packets:
        sent_s.setdefault(packet.key, []).append(packet.at_s)
    for moments_s in sent_s.values():
        assert max((b - a for a, b in pairwise(moments_s)), default=0.0) <= SILENT_MOST_S + latest * slowest_s


def _assert_remembered(late: Late) -> None:
    """Hold the guard to every frame that went and to no other, dated as it went or a little later."""
    late.run.change(late.run.show, late.bench.now_s)
    guard, frames = late.run.stage.guard, late.window.frames
    nodes, channels = (np.stack(each) for each in zip(*frames, strict=True))
    alone = FlashGuard(nodes.shape[1], channels.shape[1])
    alone.admit_each(nodes, channels, [np.inf] * len(frames), late.window.shown_s)
    assert np.array_equal(guard._shown.nodes, frames[-1].nodes)
    assert np.array_equal(guard._shown.channels, frames[-1].channels)
    assert guard._sums.tolist() == alone._sums.tolist()
    if guard._nodes._mirror.shape[0] >= difference.MANY_NODES:
        # Of so many, those that stay as they are are not followed, one way or the other: see test_in_short.
        return
    for ours, theirs in ((guard._nodes, alone._nodes), (guard._channels, alone._channels)):
        assert np.array_equal(ours._mirror, theirs._mirror)
        assert np.array_equal(ours._lowest, theirs._lowest)
        _assert_dated(np.array(ours._flashes_s), np.array(theirs._flashes_s))
    assert guard._whole._is_up == alone._whole._is_up
    assert guard._whole._lowest == alone._whole._lowest
    _assert_dated(np.array(guard._whole._flashes_s), np.array(alone._whole._flashes_s))


def _assert_dated(dated_s: np.ndarray, went_s: np.ndarray) -> None:
    later_s = dated_s[dated_s > -np.inf] - went_s[went_s > -np.inf]
    assert (later_s >= -1e-9).all()
    assert (later_s <= LATE_SHARE / min(RATES_HZ) + 1e-9).all()
