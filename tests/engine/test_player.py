"""Which picture is shown when: steps at a pace, in hand, dark."""

from typing import Any

import numpy as np
import pytest

from patterns.plain import PatternError
from streamer.display.layout import layout_of
from streamer.engine.messages import Show, State
from streamer.engine.player import Player
from streamer.errors import PlanError
from tests.engine.bench import boathouse

LAYOUT = layout_of(boathouse(1, 2))
START_S = 12345.678


def walk(**show: Any) -> Player:
    """Return a player of a walk of ten nodes a second."""
    return Player(LAYOUT, Show(**{"pattern": "walk", "pace": 10, **show}), START_S)


def play(player: Player, seconds: float, rate_hz: float = 40, start_s: float = START_S) -> list[int]:
    """Return the step of each frame."""
    steps = []
    for frame in range(round(seconds * rate_hz)):
        player.picture(start_s + frame / rate_hz)
        steps.append(player.step)
    return steps


def test_steps_come_evenly_for_an_hour():
    """Ten steps a second at 20 Hz: every step lasts two frames, the 36,000th as the first."""
    player = walk()
    steps = play(player, 3600, rate_hz=20)
    assert steps == [frame // 2 for frame in range(len(steps))]


def test_a_step_is_drawn_once_however_many_frames_it_lasts():
    """Ten steps a second at 40 Hz: four frames are one picture, the same object; the next are another."""
    player = walk()
    frames = [player.picture(START_S + frame / 40) for frame in range(8)]
    assert len({id(frame) for frame in frames[:4]}) == len({id(frame) for frame in frames[4:]}) == 1
    assert frames[0] is not frames[4]


def test_a_change_of_level_does_not_hold_the_steps_up():
    """However often it is changed: a person who holds the key down still sees the pattern go on."""
    player = walk()
    for frame in range(41):
        player.change(Show(pattern="walk", pace=10, level_percent=frame))
        player.picture(START_S + frame / 40)
    assert player.step == 10


def test_another_pattern_begins_at_its_first_step():
    """And the same pattern with another parameter goes on."""
    player = walk()
    play(player, 1)
    player.change(Show(pattern="walk", params={"window": 3}, pace=10))
    assert player.step == 9
    player.change(Show(pattern="count"))
    assert player.step == 0


def test_in_hand_the_step_stays_until_it_is_let_go():
    """Stepping takes it in hand; let go, it goes on from there."""
    player = walk()
    play(player, 1)
    player.step_by(-2)
    assert (player.step, player.state) == (7, State.IN_HAND)
    assert set(play(player, 5, start_s=START_S + 1)) == {7}
    player.in_hand = False
    assert play(player, 1, start_s=START_S + 6)[-1] == 17


def test_time_stands_still_in_the_dark():
    """Back from the dark, the pattern is where it was left."""
    player = walk()
    play(player, 1)
    player.dark = True
    assert not player.picture(START_S + 60).nodes.any()
    assert player.state is State.DARK
    player.dark = False
    player.picture(START_S + 60.025)
    assert player.step == 10


def test_a_pace_beyond_the_patterns_limit_is_brought_down_to_it():
    """Probe changes whole strings and may do so three times a second at the most."""
    assert Player(LAYOUT, Show(pattern="probe", pace=40), 0.0).pace == 3


@pytest.mark.parametrize(
    "show",
    [
        Show(pattern="no such pattern"),
        Show(pattern="walk", params={"window": -1}),
        Show(pattern="walk", params={"no such": 1}),
        Show(pattern="walk", ports=("no such port",)),
    ],
)
def test_a_show_that_cannot_be_leaves_the_one_before(show: Show):
    """The refusal is an error in words; what is shown goes on as if nothing had been asked."""
    player = walk()
    play(player, 1)
    with pytest.raises((PatternError, PlanError)):
        player.change(show)
    assert (player.show.pattern, player.step) == ("walk", 9)
    assert np.count_nonzero(player.picture(START_S + 1).nodes)


@pytest.mark.parametrize("step", [10**30, -(10**30), 2**31])
def test_a_step_beyond_all_numbers_is_refused(step: int):
    """It would not fit the integers that patterns reckon with."""
    with pytest.raises(PatternError, match="no such step"):
        walk().jump(step)


@pytest.mark.parametrize("step", [-1, -1000, 2**31 - 1])
def test_steps_wrap_both_ways(step: int):
    """Stepping back from the first shows the last."""
    player = walk()
    player.jump(step)
    assert player.picture(START_S).nodes.any() or player.steps > 50
    assert player.now_showing
