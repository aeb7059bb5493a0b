"""Frames to come of large displays, known by what they change: the same as if drawn in full."""

from collections.abc import Sequence
from unittest.mock import Mock, patch

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from patterns.plain import COMPONENTS, Frame, Lit
from streamer.engine import making
from streamer.engine.course_in_short import CourseInShort
from streamer.engine.difference import Change
from streamer.engine.guard import FlashGuard
from streamer.engine.making import FIRST_FRAMES
from streamer.engine.strides import Stride, Strides
from streamer.engine.totals import Totals, highest_of, sums_of
from tests.engine.bench import Bench, assert_unbroken, boathouse, is_dark, play
from tests.engine.drawn import FEW_SHARE, as_if_large

UNIVERSES = 119
NODES = 12
UNLIT, FAINT = np.zeros(1, np.uint8), np.full(1, 10, np.uint8)
"""The one channel of a fixture, as it is while pictures are in short; and before that, up by a little."""
OCTETS = st.sampled_from([0, 3, 20, 26, 60, 254, 255])
LIGHTS = st.lists(OCTETS, min_size=COMPONENTS, max_size=COMPONENTS)
PAUSES_S = st.sampled_from([0.025, 0.1, 0.17, 0.3])


@st.composite
def pictures(draw: st.DrawFn) -> list[Lit]:
    """Draw pictures in short that follow one another, most of them of one rest, some of them again."""
    rests = np.array(draw(st.lists(LIGHTS, min_size=1, max_size=2)), np.uint8)
    # Few colours, so that some lights stay as they are from one picture to the next.
    colours = st.sampled_from(draw(st.lists(LIGHTS, min_size=1, max_size=3)))
    made: list[Lit] = []
    for _ in range(draw(st.integers(1, 12))):
        before = draw(st.integers(0, 2 * len(made)))
        if before < len(made):
            made.append(made[before])
            continue
        nodes = draw(st.lists(st.integers(0, NODES - 1), max_size=5, unique=True))
        values = draw(st.lists(colours, min_size=max(1, len(nodes)), max_size=max(1, len(nodes))))
        rest = rests[draw(st.sampled_from([0, 0, 0, -1]))]
        alike = draw(st.booleans()) or not nodes
        made.append(Lit(rest, np.array(nodes, np.intp), np.array(values[:1] if alike else values, np.uint8)))
    return made


def drawn(lit: Lit) -> np.ndarray:
    """Return all nodes of a picture, (N, 4)."""
    nodes = np.tile(lit.rest, (NODES, 1))
    nodes[lit.nodes] = lit.values
    return nodes


def strides_of(shown: Frame, lits: Sequence[Lit]) -> list[Stride]:
    """Return what these change, however many lights that are of so few."""
    with as_if_large():
        return Strides(NODES).of(shown, lits, drawn)


def course_of(shown: Frame, lits: Sequence[Lit]) -> tuple[CourseInShort, list[Frame]] | None:
    """Return the frames in short, and drawn; None if the first changes too many lights."""
    strides = strides_of(shown, lits)
    if not strides:
        return None
    frames = [Frame(drawn(lit), UNLIT) for lit in lits[: len(strides)]]
    totals = [Totals(sums_of(frame.nodes), highest_of(frame.nodes)) for frame in frames]
    return CourseInShort(NODES, len(UNLIT), strides, totals), frames


def state(guard: FlashGuard) -> list[object]:
    """Return all that its watches know."""
    of_lights = [
        [
            watch._mirror.tolist(),
            watch._lowest.tolist(),
            np.array(watch._flashes_s).tolist(),
            watch._spent_s,
        ]
        for watch in (guard._nodes, guard._channels)
    ]
    return [*of_lights, vars(guard._whole.copy())]


@given(pictures())
def test_each_stride_leads_from_one_picture_to_the_next(lits: list[Lit]):
    """No light twice, none that stays as it is; they end where more than a few change."""
    shown = Frame(drawn(lits[0]), UNLIT)
    strides = strides_of(shown, lits)
    words = shown.nodes.view(np.uint32)[:, 0].copy()
    for stride, lit in zip(strides, lits, strict=False):
        assert len(set(stride.lights.tolist())) == len(stride.lights)
        assert (words[stride.lights] == stride.before).all()
        assert (stride.before != stride.after).all()
        words[stride.lights] = stride.after
        assert np.array_equal(words, drawn(lit).view(np.uint32)[:, 0])
    if len(strides) < len(lits):
        before, after = lits[len(strides) - 1], lits[len(strides)]
        concerned = {*before.nodes.tolist(), *after.nodes.tolist()}
        assert (before.rest != after.rest).any() or len(concerned) > FEW_SHARE * NODES


@given(pictures(), pictures())
def test_strides_go_on_from_the_last_picture_only_if_it_is_shown(lits: list[Lit], more: list[Lit]):
    """Else they set out from what is."""
    shown, other = Frame(drawn(lits[0]), UNLIT), Frame(drawn(more[-1]), UNLIT)
    with as_if_large():
        goes_on = Strides(NODES)
        strides = goes_on.of(shown, lits, drawn)
        if len(strides) < len(lits):
            return
        last = Frame(drawn(lits[-1]), UNLIT)
        goes_on.stand_at(last)
        in_full = Mock(side_effect=drawn)
        goes_on.of(last, more[:1], in_full)
        assert not in_full.called
        # Once more from the last: of what is made, nothing may have gone.
        for now in (last, last, other):
            of = goes_on.of(now, more, drawn)
            words = now.nodes.view(np.uint32)[:, 0].copy()
            for stride, lit in zip(of, more, strict=False):
                words[stride.lights] = stride.after
                assert np.array_equal(words, drawn(lit).view(np.uint32)[:, 0])


@settings(max_examples=200)
@given(first=pictures(), then=pictures(), pause_s=PAUSES_S, most=st.integers(1, 3), gone=st.integers(0, 12))
def test_followed_in_short_they_pass_and_are_remembered_as_one_after_the_other(
    first: list[Lit], then: list[Lit], pause_s: float, most: int, gone: int
):
    """Held from the same frame on; kept, the guard knows what it would; taken back, what it did."""
    guard, alone = FlashGuard(NODES, 1, most), FlashGuard(NODES, 1, most)
    now_s = 10.0
    for lits in (first, then):
        for each in (guard, alone):
            each.admit(Frame(np.zeros((NODES, COMPONENTS), np.uint8), FAINT), now_s - 1)
            each.admit(Frame(drawn(lits[0]), UNLIT), now_s)
        followed = course_of(guard.shown, lits)
        if followed is None:
            continue
        course, frames = followed
        moments_s = [now_s + pause_s * number for number in range(1, len(frames) + 1)]
        now_s = moments_s[-1] + 1 + pause_s
        before = state(guard)
        passes = guard.follow(course, moments_s, moments_s)
        shown = _admitted(alone, course, frames[: passes + 1], moments_s)
        assert passes == len(shown) - (passes < len(frames))
        guard.take_back()
        assert state(guard) == before
        # Of those that pass, some have gone.
        sent = min(gone, passes)
        alone = _again(most, guard, frames[:sent], course, moments_s)
        if sent and sent == passes:
            assert guard.follow(course, moments_s, moments_s) == sent
        elif sent:
            assert guard.follow(course.until(sent), [np.inf] * sent, moments_s[:sent]) == sent
        guard.keep()
        assert state(guard) == state(alone)
        assert np.array_equal(guard.shown.nodes, alone.shown.nodes)
        assert guard._sums.tolist() == sums_of(guard.shown.nodes).tolist()
        assert guard._highest >= highest_of(guard.shown.nodes)


def _admitted(
    guard: FlashGuard, course: CourseInShort, frames: Sequence[Frame], moments_s: Sequence[float]
) -> list[Frame]:
    """Return the frames that a guard lets through one after the other, up to the first that it holds."""
    through: list[Frame] = []
    before = guard.shown
    guard._asked = before
    for number, (frame, at_s) in enumerate(zip(frames, moments_s, strict=False)):
        held = guard.held
        change = Change(before, frame, course.altered(number)[0], None)
        if course.has_changed[number]:
            guard.admit(frame, at_s, change)
            before = frame
        if guard.held > held:
            return [*through, frame]
        through.append(frame)
    return through


def _again(
    most: int,
    like: FlashGuard,
    frames: Sequence[Frame],
    course: CourseInShort,
    moments_s: Sequence[float],
) -> FlashGuard:
    """Return a guard like another, that has let these through as well."""
    again = FlashGuard(NODES, 1, most)
    again._nodes = like._nodes.copy()
    again._channels, again._whole = like._channels.copy(), like._whole.copy()
    again._shown = Frame(like.shown.nodes.copy(), UNLIT)
    again._sums = like._sums.copy()
    _admitted(again, course, frames, moments_s)
    return again


def test_frames_of_a_large_display_are_ready_after_the_last_piece_of_the_first(bench: Bench):
    """Of many universes, it goes in pieces over 10 ms; the next frames are made before the second is due."""
    with patch.object(making, "MANY_NODES", 1):
        run = bench.start(play("walk", boathouse(*range(1, UNIVERSES + 1)), pace=40.0))
        bench.tick()
        began_s = bench.now_s
        assert run.attention_s < began_s + 0.010
        while run.attention_s < began_s + 0.010:
            bench.now_s = run.wake_s
            bench.tick()
        assert run.attention_s > began_s + FIRST_FRAMES / 40
        assert run.pieces_s == pytest.approx(began_s + 1 / 40)


def test_who_asks_between_two_pieces_gets_the_rest_of_the_frame_and_then_what_was_asked(bench: Bench):
    """No packet is lost, none goes twice, and dark comes with the next frame at the latest."""
    run = bench.start(play("walk", boathouse(*range(1, UNIVERSES + 1)), pace=40.0))
    bench.pass_time(0.49)
    first = len(bench.packets)
    while not 0 < len(bench.packets) - first < UNIVERSES:
        first = len(bench.packets)
        bench.now_s = run.wake_s
        bench.tick()
    begun = bench.packets[first:]
    assert 0 < len(begun) < UNIVERSES
    run.show_dark(bench.now_s, on=True)
    after = bench.pass_time(0.06)
    assert_unbroken(bench.packets)
    of_frame = begun + [packet for packet in after if not is_dark(packet.slots)]
    assert len({packet.key for packet in of_frame}) == len(of_frame) == UNIVERSES
    newest = {packet.key: packet for packet in after}
    assert len(newest) == UNIVERSES
    assert all(is_dark(packet.slots) for packet in newest.values())


def test_who_goes_on_looking_leaves_what_is_ready_as_it_is(bench: Bench):
    """The desk says in each turn who looks; only who comes anew has frames made again, that show."""
    run = bench.start(play("walk", boathouse(*range(1, UNIVERSES + 1)), pace=40.0))
    bench.pass_time(0.49)
    ready_s = run.attention_s
    run.be_watched(on=True)
    assert run.attention_s == ready_s
    run.be_watched(on=False)
    assert run.attention_s == ready_s
    run.be_watched(on=True)
    assert run.attention_s < ready_s
    bench.pass_time(0.2)
    sent = b"".join(bench.of(universe)[-1].slots[:150] for universe in range(1, UNIVERSES + 1))
    assert bench.window.frames[-1].nodes[:, :3].tobytes() == sent
