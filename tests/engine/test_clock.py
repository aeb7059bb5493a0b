"""The frame clock and the count of lateness."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.engine.clock import BIN_EDGES_US, FrameClock, LatenessCounter

HOUR_S = 3600


def test_an_hour_at_44_hz_does_not_drift():
    """Deadlines are start + k / rate; the 158,400th is an hour after the start to a nanosecond."""
    clock = FrameClock(44, 5000.0)
    for _ in range(44 * HOUR_S):
        clock.arrive(clock.deadline_s + 0.0002)
    assert clock.deadline_s == pytest.approx(5000.0 + HOUR_S, abs=1e-9)


def test_lateness_of_one_frame_does_not_move_the_next():
    """A frame met 5 ms late is followed by one at its own moment."""
    clock = FrameClock(40, 0.0)
    arrival = clock.arrive(0.005)
    assert arrival.lateness_s == pytest.approx(0.005)
    assert (arrival.skipped, arrival.is_late) == (0, True)
    assert clock.deadline_s == pytest.approx(0.025)


@pytest.mark.parametrize(("lateness_s", "is_late"), [(0.0, False), (0.0024, False), (0.0026, True)])
def test_a_frame_is_late_from_a_tenth_of_its_period_on(lateness_s: float, *, is_late: bool):
    """At 40 Hz that is 2.5 ms."""
    assert FrameClock(40, 0.0).arrive(lateness_s).is_late is is_late


def test_after_a_pause_one_frame_is_kept_and_the_rest_are_counted_as_skipped():
    """One second at 40 Hz: the frame of this very moment is kept, the 40 before it are gone."""
    clock = FrameClock(40, 0.0)
    arrival = clock.arrive(1.001)
    assert (arrival.skipped, arrival.is_late) == (40, True)
    assert arrival.moment_s == pytest.approx(1.0)
    assert arrival.lateness_s == pytest.approx(0.001)
    assert clock.deadline_s == pytest.approx(1.026)


def test_a_change_of_rate_keeps_the_moment_of_the_next_frame():
    """A person who drags the rate about gets every frame in its turn."""
    clock = FrameClock(40, 0.0)
    for _ in range(3):
        clock.arrive(clock.deadline_s)
    due_s = clock.deadline_s
    clock.change_rate(1)
    assert clock.deadline_s == due_s
    clock.arrive(due_s)
    assert clock.deadline_s == pytest.approx(due_s + 1)


@given(
    st.sampled_from([1.0, 7.3, 10.0, 40.0, 44.0]),
    st.lists(st.floats(0, 3), min_size=1, max_size=50),
)
def test_every_frame_is_either_kept_or_skipped_and_none_is_ahead_of_time(
    rate_hz: float, pauses_s: list[float]
):
    """Whatever the pauses: the frames skipped fill the time between two that are kept.

    After a skip the next is a whole period away, so that the rate of ANSI E1.31-2018 clause 6.6.1 holds.
    """
    clock, now_s = FrameClock(rate_hz, 100.0), 100.0
    for pause_s in pauses_s:
        due_s = clock.deadline_s
        now_s = max(now_s + pause_s, due_s)
        arrival = clock.arrive(now_s)
        assert arrival.moment_s == pytest.approx(due_s + arrival.skipped / rate_hz)
        assert -1e-9 <= now_s - arrival.moment_s <= 1 / rate_hz + 1e-9
        kept_s = now_s if arrival.skipped else due_s
        assert clock.deadline_s == pytest.approx(kept_s + 1 / rate_hz)


@given(st.lists(st.floats(1e-6, 3000), min_size=1, max_size=300))
def test_percentiles_are_those_of_numpy_within_the_width_of_a_bin(lateness_s: list[float]):
    """Oracle: numpy.percentile, nearest rank ("inverted_cdf"); a bin is 5 % wide."""
    counter = LatenessCounter()
    for each in lateness_s:
        counter.add(each)
    found = counter.summary()
    for share, value in ((50, found.p50_us), (99, found.p99_us)):
        exact = np.percentile(np.array(lateness_s) * 1e6, share, method="inverted_cdf")
        assert exact * 0.999999 <= value <= exact * 1.050001
    assert found.max_us == pytest.approx(max(lateness_s) * 1e6)


def test_before_the_first_frame_there_is_no_lateness():
    """All three are zero, not an error."""
    assert LatenessCounter().summary().max_us == 0


@given(st.lists(st.floats(0, 1.0), min_size=1, max_size=200))
def test_the_histogram_counts_every_frame_once(lateness_s: list[float]):
    """As NumPy counts into the same edges, each bin with its upper edge."""
    counter = LatenessCounter()
    for each in lateness_s:
        counter.add(each)
    bins = counter.summary().bins
    assert [each.up_to_us for each in bins] == [*BIN_EDGES_US, None]
    below = np.searchsorted(BIN_EDGES_US, np.array(lateness_s) * 1e6, side="left")
    assert [each.frames for each in bins] == np.bincount(below, minlength=len(bins)).tolist()
