"""The flash guard, against a slow counter written on its own from the definition.

WCAG 2.x success criterion 2.3.1 and its definition of a general flash: a pair of opposing changes of 10 % of
the maximum or more; no more than three in any one-second period.
"""

from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from patterns.plain import Frame
from streamer.engine.difference import EVERY, Change
from streamer.engine.flashes import FlashWatch
from streamer.engine.guard import FlashGuard
from streamer.engine.total_watch import TotalWatch
from streamer.engine.totals import sums_of
from tests.engine.flashing import flashes, most_in_a_second

NO_CHANNELS = np.zeros(0, np.uint8)


def assert_calm(shown: list[tuple[float, Frame]], tenth: float = 25.5, most: int = 3) -> None:
    """No component of a node or of the mean, and no channel, flashes more than so many times a second."""
    nodes = np.stack([frame.nodes for _, frame in shown]).astype(float)
    channels = np.stack([frame.channels for _, frame in shown]).astype(float)
    moments = [at_s for at_s, _ in shown]
    columns = [*nodes.reshape(len(shown), -1).T, *channels.T, *nodes.mean(axis=1).T]
    for column in columns:
        assert most_in_a_second(flashes(zip(moments, column, strict=True), tenth)) <= most


def alike(nodes: int, value: int, channels: int = 0) -> Frame:
    """Return a frame in which everything has one value."""
    return Frame(np.full((nodes, 4), value, np.uint8), np.full(channels, value, np.uint8))


LEVELS = st.sampled_from([0, 0, 3, 12, 20, 25, 26, 30, 60, 100, 254, 255])
PICTURES = st.lists(LEVELS, min_size=9, max_size=9)
PAUSES_S = st.sampled_from([0.0226, 0.025, 0.1, 0.17, 0.3, 0.9])


@settings(max_examples=300)
@given(st.lists(st.tuples(PAUSES_S, PICTURES), min_size=1, max_size=60))
def test_nothing_flashes_more_than_three_times_in_any_second(frames: list[tuple[float, list[int]]]):
    """Two nodes and a channel at random: the slow counter finds no fourth flash, whatever is asked."""
    guard, now_s, shown = FlashGuard(2, 1), 50.0, []
    for pause_s, values in frames:
        now_s += pause_s
        asked = Frame(np.array(values[:8], np.uint8).reshape(2, 4), np.array(values[8:], np.uint8))
        frame = guard.admit(asked, now_s)
        shown.append((now_s, Frame(frame.nodes.copy(), frame.channels.copy())))
    assert_calm(shown)


@pytest.mark.slow
@settings(max_examples=400)
@given(
    frames=st.lists(st.tuples(PAUSES_S, PICTURES), min_size=1, max_size=40),
    together=st.integers(1, 16),
    many=st.sampled_from([1, 3]),
    few=st.sampled_from([0.3, 1.0]),
    is_steady=st.booleans(),
)
def test_frames_that_are_looked_at_together_pass_as_one_after_the_other(
    frames: list[tuple[float, list[int]]], together: int, many: int, few: float, *, is_steady: bool
):
    """By frame or by turn, all lights or those that change: the same frames, held from the same one on."""
    moments_s = np.cumsum([pause_s for pause_s, _ in frames]).tolist()
    values = np.array([picture for _, picture in frames], np.uint8)
    if is_steady:
        # The highest of every frame is one and the same, and most lights change now and then.
        values[:, 8], values[:, 1::2] = 255, values[::-1, :1] // 128 * 255
    nodes, channels = values[:, :8].reshape(-1, 2, 4), values[:, 8:]
    with (
        patch("streamer.engine.sequel.MANY_NODES", many),
        patch("streamer.engine.difference.MANY_NODES", many),
        patch("streamer.engine.sequel.FEW_TURNS", few),
    ):
        one_by_one, at_once, at = FlashGuard(2, 1), FlashGuard(2, 1), 0
        while at < len(frames):
            part = slice(at, at + together)
            passed = at_once.admit_each(nodes[part], channels[part], moments_s[part], moments_s[part])
            for number, frame in enumerate(passed, at):
                shown = one_by_one.admit(Frame(nodes[number], channels[number]), moments_s[number])
                assert one_by_one.held == 0
                assert np.array_equal(frame.nodes, shown.nodes)
                assert np.array_equal(frame.channels, shown.channels)
            at += len(passed)
            if len(passed) < len(nodes[part]):
                one_by_one.admit(Frame(nodes[at], channels[at]), moments_s[at])
                assert one_by_one.held == 1
                return


@pytest.mark.slow
@settings(max_examples=300)
@given(
    st.integers(1, 8),
    st.integers(1, 8),
    st.lists(st.tuples(PAUSES_S, PICTURES), min_size=1, max_size=40),
    st.lists(st.tuples(PAUSES_S, PICTURES), min_size=1, max_size=40),
)
def test_any_limit_is_kept_also_by_a_guard_that_goes_on_from_one_with_another(
    most: int,
    then: int,
    first: list[tuple[float, list[int]]],
    second: list[tuple[float, list[int]]],
):
    """No more than the limit before and after; across the change no more than the larger of the two."""
    guard, now_s = FlashGuard(2, 1, most), 50.0
    shown: list[tuple[float, Frame]] = []
    after = FlashGuard(2, 1, then)
    everything = np.array([True, True])
    for part, frames in enumerate((first, second)):
        if part:
            after.go_on_from(guard, everything, everything)
            assert_calm(shown, most=most)
            guard = after
        for pause_s, values in frames:
            now_s += pause_s
            asked = Frame(np.array(values[:8], np.uint8).reshape(2, 4), np.array(values[8:], np.uint8))
            frame = guard.admit(asked, now_s)
            shown.append((now_s, Frame(frame.nodes.copy(), frame.channels.copy())))
    assert_calm(shown, most=max(most, then))
    # What is lit at the change looks to the counter, which begins dark, like a flash of that moment.
    is_lit = shown[len(first) - 1][1].nodes.any() or shown[len(first) - 1][1].channels.any()
    assert_calm(shown[len(first) - 1 :], most=then + int(is_lit))


@settings(max_examples=200)
@given(
    st.lists(
        st.tuples(PAUSES_S, st.lists(LEVELS, min_size=8, max_size=8), st.sampled_from([0, 0, 0, 30, 255])),
        min_size=1,
        max_size=40,
    ),
    st.sampled_from([1, 4096]),
)
def test_a_few_lights_among_many_are_watched_as_closely(
    frames: list[tuple[float, list[int], int]], many: int
):
    """Two nodes of a hundred change, followed light by light, or all do, followed at once."""
    guard, now_s, shown = FlashGuard(100, 0), 50.0, []
    for pause_s, values, others in frames:
        now_s += pause_s
        nodes = np.full((100, 4), others, np.uint8)
        nodes[[3, 97]] = np.array(values, np.uint8).reshape(2, 4)
        with patch("streamer.engine.difference.MANY_NODES", many):
            frame = guard.admit(Frame(nodes, NO_CHANNELS), now_s)
        shown.append((now_s, Frame(frame.nodes[[3, 50, 97]], frame.channels)))
    columns = np.stack([frame.nodes for _, frame in shown]).astype(float).reshape(len(shown), -1).T
    for column in columns:
        moments = [at_s for at_s, _ in shown]
        assert most_in_a_second(flashes(zip(moments, column, strict=True), 25.5)) <= 3


@given(
    st.lists(
        st.tuples(PAUSES_S, st.lists(LEVELS, min_size=8, max_size=8), st.sets(st.integers(0, 1))),
        min_size=1,
        max_size=60,
    ),
    st.sampled_from([1, 3, 26]),
    st.sampled_from([1, 2]),
)
def test_a_watch_follows_lights_one_by_one_as_it_follows_all(
    frames: list[tuple[float, list[int], set[int]]], swing: int, block: int
):
    """Rows picked out, in blocks, and in plain numbers: one answer to what is allowed, at every frame."""
    octets, picked, plain = FlashWatch(2, 4), FlashWatch(2, 4), [TotalWatch(4), TotalWatch(4)]
    now_s, values = 50.0, np.zeros((2, 4), np.uint8)
    for pause_s, levels, lights in frames:
        now_s += pause_s
        rows = np.array(sorted(lights), np.intp)
        values[rows] = np.array(levels, np.uint8).reshape(2, 4)[rows]
        answers = {
            octets.allows(EVERY, values, swing, now_s),
            picked.allows(rows, values[rows], swing, now_s),
            all(each.allows(light, swing, now_s) for each, light in zip(plain, values.tolist(), strict=True)),
        }
        assert len(answers) == 1
        with patch("streamer.engine.flashes.BLOCK_LIGHTS", block):
            octets.follow(EVERY, values, swing, now_s)
        picked.follow(rows, values[rows], swing, now_s)
        for each, light in zip(plain, values.tolist(), strict=True):
            each.follow(light, swing, now_s)


@pytest.mark.parametrize("nodes", [0, 1, 255, 16384, 16385, 17000])
def test_sums_of_components_are_exact(nodes: int):
    """Oracle: NumPy's own sum in wide numbers; also all at full, where short numbers are fullest."""
    picture = np.random.default_rng(nodes).integers(0, 256, (nodes, 4), np.uint8)
    for each in (picture, np.full((nodes, 4), 255, np.uint8)):
        assert sums_of(each).tolist() == each.astype(np.int64).sum(axis=0).tolist()


@settings(max_examples=100)
@given(
    st.sampled_from([2, 10, 25, 76]),
    st.lists(st.tuples(PAUSES_S, st.booleans(), st.booleans()), min_size=1, max_size=60),
)
def test_at_low_levels_a_tenth_is_a_tenth_of_what_is_shown(
    level: int, frames: list[tuple[float, bool, bool]]
):
    """At a level of 10 % full contrast is a tenth of full; in the dark it flashes all the same."""
    guard, now_s, shown = FlashGuard(2, 0), 50.0, []
    for pause_s, first, second in frames:
        now_s += pause_s
        nodes = np.array([[first] * 4, [second] * 4], np.uint8) * np.uint8(level)
        shown.append((now_s, guard.admit(Frame(nodes, NO_CHANNELS), now_s)))
    assert_calm(shown, max(1, level / 10))


@given(st.lists(PICTURES, max_size=40), st.sampled_from([0.001, 0.025]))
def test_dark_always_passes(frames: list[list[int]], pause_s: float):
    """Whatever went before, and however quickly."""
    guard, now_s = FlashGuard(2, 1), 50.0
    for values in frames:
        now_s += pause_s
        guard.admit(
            Frame(np.array(values[:8], np.uint8).reshape(2, 4), np.array(values[8:], np.uint8)), now_s
        )
    dark = guard.admit(alike(2, 0, 1), now_s)
    assert not dark.nodes.any()
    assert not dark.channels.any()


@given(st.lists(PICTURES, min_size=1, max_size=40), PICTURES)
def test_nothing_is_held_for_longer_than_a_second(frames: list[list[int]], last: list[int]):
    """No picture waits for ever: asked for throughout, it is shown after one second."""
    guard, now_s = FlashGuard(2, 1), 50.0
    for values in frames:
        now_s += 0.025
        guard.admit(
            Frame(np.array(values[:8], np.uint8).reshape(2, 4), np.array(values[8:], np.uint8)), now_s
        )
    wanted = Frame(np.array(last[:8], np.uint8).reshape(2, 4), np.array(last[8:], np.uint8))
    shown = [guard.admit(wanted, now_s + k * 0.025) for k in range(42)][-1]
    assert np.array_equal(shown.nodes, wanted.nodes)
    assert np.array_equal(shown.channels, wanted.channels)


def test_a_steady_picture_is_never_held():
    """And it stays the same object, so that nobody need look at it again."""
    guard = FlashGuard(10, 2)
    first = guard.admit(alike(10, 200, 2), 0.0)
    assert all(guard.admit(alike(10, 200, 2), k / 44) is first for k in range(1, 500))
    assert guard.held == 0


@given(st.lists(st.tuples(PAUSES_S, PICTURES), min_size=1, max_size=30))
def test_no_node_differs_from_the_frame_before_but_those_told(frames: list[tuple[float, list[int]]]):
    """What is written into packets relies on it, whether frames are shown or held."""
    guard, now_s = FlashGuard(2, 1), 50.0
    before = np.zeros((2, 4), np.uint8)
    for pause_s, values in frames:
        now_s += pause_s
        asked = Frame(np.array(values[:8], np.uint8).reshape(2, 4), np.array(values[8:], np.uint8))
        shown = guard.admit(asked, now_s).nodes
        expected = before.copy()
        expected[guard.altered] = shown[guard.altered]
        assert np.array_equal(shown, expected)
        before = shown.copy()


def test_what_is_known_of_a_change_from_another_frame_is_not_relied_on():
    """Between the two there was the dark: all nodes are other than they are shown, not only the one told."""
    guard, first, then = FlashGuard(10, 0), alike(10, 200), alike(10, 200)
    then.nodes[3] = 100
    change = Change(first, then, np.array([3]), None)
    guard.admit(first, 0.0)
    guard.admit(alike(10, 0), 0.4)
    assert guard.admit(then, 0.8, change).nodes.tolist() == then.nodes.tolist()


def test_the_fourth_flash_in_a_second_is_held_and_counted():
    """On and off every 100 ms: on at 0.0, 0.2 and 0.4 s, and then not before 1.0 s."""
    guard = FlashGuard(5, 0)
    lit = [bool(guard.admit(alike(5, 255 * (k % 2 == 0)), k / 10).nodes.any()) for k in range(12)]
    assert [k for k, is_lit in enumerate(lit) if is_lit] == [0, 2, 4, 10]
    assert guard.held == 2


@pytest.mark.parametrize(("frames", "is_held"), [(13, True), (14, False)])
def test_at_40_hz_a_flash_takes_14_frames(frames: int, *, is_held: bool):
    """Computed: 40 / 3 rounded up. 13 frames are 3.08 flashes a second, 14 are 2.86."""
    guard = FlashGuard(1, 0)
    for k in range(400):
        guard.admit(alike(1, 255 * (k % frames < frames // 2)), k / 40)
    assert (guard.held > 0) is is_held


@pytest.mark.parametrize("nodes", [15, 100])
@pytest.mark.parametrize("level", [2, 76, 255])
def test_a_walk_of_ten_nodes_a_second_is_never_held(nodes: int, level: int):
    """One lit node goes down a string: a node is lit once a round, and the whole is as bright as before."""
    guard = FlashGuard(nodes, 0)
    for k in range(40 * 30):
        picture = np.zeros((nodes, 4), np.uint8)
        picture[k // 4 % nodes, 1] = level
        guard.admit(Frame(picture, NO_CHANNELS), k / 40)
    assert guard.held == 0


def test_strings_that_flash_in_turn_are_held_though_no_single_one_flashes():
    """Ten strings, one after the other, each lit for 50 ms and a gap: the display as a whole flashes."""
    guard, shown = FlashGuard(40, 0), []
    for k in range(80):
        picture = np.zeros((40, 4), np.uint8)
        if k % 4 < 2:
            picture[k // 4 % 10 :: 10] = 255
        shown.append((k / 40, guard.admit(Frame(picture, NO_CHANNELS), k / 40)))
    assert guard.held > 0
    assert_calm(shown)


def test_a_slow_fade_is_one_flash_dated_when_it_was_brightest():
    """A rise that goes on counts from its end: a flash that began before the second ends inside it."""
    guard = FlashGuard(1, 0)
    for k in range(41):
        guard.admit(alike(1, 6 * k), k / 40)
    moments = [1.01, 1.02, 1.03, 1.04, 1.05, 1.06]
    shown = [guard.admit(alike(1, 240 * (k % 2)), at) for k, at in enumerate(moments)]
    assert [bool(frame.nodes.any()) for frame in shown] == [False, True, False, True, False, False]


def test_a_guard_that_goes_on_from_another_remembers_its_flashes():
    """Nodes 0 and 1 have flashed three times; as nodes 1 and 2 of another patch they may not again."""
    before, after = FlashGuard(2, 1), FlashGuard(3, 1)
    for k in range(6):
        before.admit(alike(2, 200 * (k % 2 == 0), 1), k / 20)
    after.go_on_from(before, np.array([True, True]), np.array([False, True, True]))
    assert not after.admit(alike(3, 200, 1), 0.4).nodes.any()
    assert after.admit(alike(3, 200, 1), 1.0).nodes.all()


@pytest.mark.parametrize(
    ("before_most", "after_most", "lit_before", "lit_after"),
    [(3, 1, [0.0, 0.2, 0.4], [1.6]), (1, 3, [0.0], [0.6, 0.8, 1.0, 1.6])],
)
def test_a_guard_with_another_limit_remembers_the_latest_flashes(
    before_most: int, after_most: int, lit_before: list[float], lit_after: list[float]
):
    """Lit every 200 ms for 100 ms; after 0.5 s by another limit, which counts what was before."""
    guards = [FlashGuard(1, 0, before_most), FlashGuard(1, 0, after_most)]
    lit: list[list[float]] = [[], []]
    for k in range(17):
        if k == 5:
            guards[1].go_on_from(guards[0], np.array([True]), np.array([True]))
        frame = guards[k >= 5].admit(alike(1, 255 * (k % 2 == 0)), k / 10)
        if frame.nodes.any():
            lit[k >= 5].append(k / 10)
    assert lit == [lit_before, lit_after]


def test_what_is_shown_when_another_goes_on_is_not_lost():
    """A change of patch whose first picture is held leaves the lights as they are."""
    red, green = np.array([200, 0, 0, 0], np.uint8), np.array([0, 200, 0, 0], np.uint8)
    before, after = FlashGuard(2, 0), FlashGuard(3, 0)
    for k in range(5):
        before.admit(Frame(np.stack([red * (k % 2 == 0)] * 2), NO_CHANNELS), k / 20)
    after.go_on_from(before, np.array([True, True]), np.array([True, True, False]))
    shown = after.admit(Frame(np.stack([green] * 3), NO_CHANNELS), 0.25)
    assert after.held == 1
    assert np.array_equal(shown.nodes, np.stack([red, red, 0 * red]))


def test_a_display_without_nodes_is_guarded_by_its_channels():
    """Fixtures alone: a fourth flash of the flood is held."""
    guard = FlashGuard(0, 1)
    for k in range(8):
        guard.admit(alike(0, 255 * (k % 2 == 0), 1), k / 20)
    assert guard.held == 1


def test_frames_that_have_gone_are_followed_whatever_they_did():
    """Four flashes in a second are not held after the event, and leave no room for a fifth."""
    nodes = np.stack([np.full((9, 4), 255 * (k % 2 == 0), np.uint8) for k in range(8)])
    channels, sent_s = np.zeros((8, 0), np.uint8), [10 + k / 20 for k in range(8)]
    guard = FlashGuard(9, 0)
    assert len(guard.admit_each(nodes, channels, sent_s, sent_s)) == 6
    guard = FlashGuard(9, 0)
    assert len(guard.admit_each(nodes, channels, [np.inf] * 8, sent_s)) == 8
    assert not guard.admit(alike(9, 255), 10.5).nodes.any()
    assert guard.admit(alike(9, 255), 11.2).nodes.all()


def test_a_single_flash_is_dated_when_its_rise_last_went_on():
    """One in a second is allowed: a light that took 0.6 s to rise may not rise again 1 s after it began.

    As with three in a second, the later of the two ways of dating a flash holds.
    """

    def lit(value: int) -> Frame:
        # One of so many that all of them together do not flash with it.
        return Frame(np.array([[value] * 4, *[[0] * 4] * 19], np.uint8), NO_CHANNELS)

    guard = FlashGuard(20, 0, 1)
    for tenth in range(7):
        guard.admit(lit(60 + 20 * tenth), 10 + tenth / 10)
    guard.admit(lit(0), 11.0)
    first = lit(255)
    assert not guard.admit(first, 11.1).nodes.any()
    assert guard.admit(first, 11.7).nodes.any()


def test_what_was_asked_for_before_others_were_foreseen_is_asked_for_anew():
    """The very same picture, shown, then another made ahead and gone, then it again: it is seen again."""
    guard, first, other = FlashGuard(1, 0), alike(1, 200), alike(1, 100)
    guard.admit(first, 10.0)
    guard.foresee(other.nodes[None], other.channels[None], [11.0], [11.0])
    assert guard.admit(first, 11.5).nodes.max() == 200
    guard.foresee(other.nodes[None], other.channels[None], [12.0], [12.0])
    guard.keep()
    assert guard.admit(first, 13.0).nodes.max() == 200


def test_what_was_foreseen_is_no_flash_until_it_is_kept():
    """Foreseen five times and never shown, it may be shown; kept three times, not a fourth time."""
    guard = FlashGuard(2, 0)
    nodes = np.stack([np.full((2, 4), 255 * number, np.uint8) for number in (1, 0)])
    channels = np.zeros((2, 0), np.uint8)
    for turn in range(8):
        moments_s = [10 + turn / 10, 10.05 + turn / 10]
        assert len(guard.foresee(nodes, channels, moments_s, moments_s)) == 2
        if turn >= 5:
            guard.keep()
    assert not guard.foresee(nodes, channels, [10.9, 10.95], [10.9, 10.95])
    guard.keep()
    assert not guard.admit(alike(2, 255), 10.9).nodes.any()


def test_a_flash_that_was_foreseen_is_dated_as_late_as_it_may_be():
    """One light of twenty, looked at by its changes: due at 10.0, sent by 10.09, again from 11.09 on."""
    guard, unlit = FlashGuard(20, 0, 1), np.zeros((20, 4), np.uint8)
    unlit[1] = 255
    lit = unlit.copy()
    lit[0] = 255
    guard.admit(Frame(unlit, NO_CHANNELS), 1.0)
    due_s = [10 + number / 100 for number in range(10)]
    guard.foresee(np.stack([lit] * 10), np.zeros((10, 0), np.uint8), due_s, [at_s + 0.09 for at_s in due_s])
    guard.keep()
    guard.admit(Frame(unlit, NO_CHANNELS), 10.5)
    assert not guard.admit(Frame(lit, NO_CHANNELS), 11.05).nodes[0].any()
    assert guard.admit(Frame(lit, NO_CHANNELS), 11.1).nodes[0].any()
