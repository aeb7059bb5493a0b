"""When streams send: ANSI E1.31-2018 clause 6.6.2."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.engine.cadence import Cadence
from streamer.engine.clock import FrameClock

STILL = np.zeros(1, np.bool_)
CHANGED = np.ones(1, np.bool_)


def times(
    rate_hz: float, until_s: float, changes: frozenset[int] = frozenset({0}), lateness_s: float = 0.0
) -> list[float]:
    """Return when one stream sends, woken as the engine is; `changes` are the frames in which it changes."""
    cadence, clock, sent, now_s, frame = Cadence(1), FrameClock(rate_hz, 0.0), [], 0.0, 0
    while now_s <= until_s:
        if now_s >= clock.deadline_s:
            frame += clock.arrive(now_s).skipped
            rows = cadence.at_frame(CHANGED if frame in changes else STILL, now_s)
            frame += 1
        else:
            rows = cadence.between_frames(now_s)
        sent += [now_s] * len(rows)
        wake_s = min(clock.deadline_s, cadence.wake_s)
        assert wake_s + 1e-9 > now_s - lateness_s, "woken for something in the past"
        now_s = wake_s + lateness_s
    return sent


@pytest.mark.parametrize(
    ("rate_hz", "wanted"),
    [
        # By hand from the clause: the change, three packets with the unchanged values, then one packet
        # every 800 to 1000 ms. Below about 1.1 Hz a keep-alive comes before the next frame.
        (1, [0, 0.9, 1.0, 1.9, 2.8, 3.7, 4.6]),
        (2, [0, 0.5, 1.0, 1.5, 2.4, 3.3, 4.2]),
        (10, [0, 0.1, 0.2, 0.3, 1.2, 2.1, 3.0, 3.9, 4.8]),
        (40, [0, 0.025, 0.05, 0.075, 0.975, 1.875, 2.775, 3.675, 4.575]),
        # 39 frames of 44 a second take 886 ms.
        (44, [0, 1 / 44, 2 / 44, 3 / 44, 42 / 44, 81 / 44, 120 / 44, 159 / 44, 198 / 44]),
    ],
)
def test_a_change_is_repeated_three_times_and_then_kept_alive(rate_hz: float, wanted: list[float]):
    """The table of a stream that changes once, at the frame rates from the slowest to the fastest."""
    assert times(rate_hz, 4.9) == pytest.approx(wanted)


def test_a_stream_that_changes_in_every_frame_sends_every_frame():
    """Nothing is held back, and nothing is sent twice."""
    assert times(40, 0.99, frozenset(range(40))) == pytest.approx([k / 40 for k in range(40)])


def test_a_change_while_quiet_goes_out_with_its_frame():
    """At frame 100 of 40 Hz: four packets from there on, whenever the last keep-alive was."""
    sent = times(40, 2.7, frozenset({0, 100}))
    assert [at for at in sent if at >= 2.5] == pytest.approx([2.5, 2.525, 2.55, 2.575])


def test_asked_for_every_frame_each_frame_is_sent():
    """Against 6.6.2, for receivers that want it."""
    cadence = Cadence(3, every_frame=True)
    still = np.zeros(3, np.bool_)
    assert [len(cadence.at_frame(still, k / 40)) for k in range(100)] == [3] * 100


def test_a_stream_that_has_sent_nothing_yet_is_not_kept_alive():
    """Its packet is still empty: a keep-alive would be a dark frame."""
    cadence = Cadence(2)
    assert len(cadence.between_frames(5.0)) == 0
    assert cadence.wake_s == np.inf


def test_streams_that_go_on_keep_their_times():
    """Moved to other rows, they are due when they were due before."""
    before, after = Cadence(2), Cadence(3)
    before.at_frame(np.array([True, True]), 0.0)
    after.go_on_from(before, np.array([1]), np.array([2]))
    assert after.between_frames(0.9).tolist() == [2]


@given(
    rate_hz=st.floats(1, 44),
    changes=st.frozensets(st.integers(0, 200), max_size=12),
    lateness_s=st.floats(0, 0.01),
)
def test_a_stream_that_stands_still_is_never_quiet_for_less_than_800_or_more_than_1000_ms(
    rate_hz: float, changes: frozenset[int], lateness_s: float
):
    """Independent of how it is done: every change is followed by three repeats, then gaps of 0.8 to 1.0 s."""
    changes |= {0}
    sent = times(rate_hz, 8.0, changes, lateness_s)
    since_change = 0
    for earlier, later in pairwise(sent):
        frames = [k for k in changes if earlier < k / rate_hz + 1e-9 <= later + 1e-9]
        since_change = 0 if frames else since_change + 1
        if since_change > 3:
            assert 0.8 <= later - earlier <= 1.0
        assert later - earlier <= 1.0
    for frame in changes:
        assert any(0 <= at - frame / rate_hz <= lateness_s + 1e-9 for at in sent) or frame / rate_hz > 7.9


def test_a_burst_of_others_puts_off_what_is_due_and_wakes_nobody_at_once():
    """What makes way for it must not be due in the past, or the engine goes round without a wait."""
    cadence, now_s = Cadence(1), 0.0
    for changed in (CHANGED, STILL, STILL, STILL):
        cadence.at_frame(changed, now_s)
        now_s += 0.025
    now_s = cadence.wake_s
    assert not len(cadence.in_burst(STILL, now_s))
    assert cadence.wake_s > now_s
    assert len(cadence.between_frames(cadence.wake_s)) == 1
