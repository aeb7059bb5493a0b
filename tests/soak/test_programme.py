"""What is up when: a pure function of the time since the beginning."""

from itertools import pairwise
from uuid import UUID

import numpy as np
import pytest

from patterns.registry import get
from streamer.display.sample import sample_display
from streamer.engine.messages import Setup
from streamer.engine.stage import Stage
from streamer.errors import PlanError
from streamer.soak.programme import PARTS, parse_programme, usual_programme
from tests.patterns.test_flashes import _most_flashes

DAY_S = 24 * 3600
RATE_HZ = 40.0


def test_the_usual_round_takes_ten_minutes_and_has_every_part_that_finds_weak_spots():
    """Eleven with fixtures; a nightly check of ten minutes sees all of it."""
    assert usual_programme(has_fixtures=False).round_s == 600
    assert usual_programme(has_fixtures=True).round_s == 660
    named = {part.name for part, _ in usual_programme(has_fixtures=True).parts}
    assert named == {part.name for part in PARTS}


def test_a_part_lasts_as_long_as_asked_and_the_round_begins_anew():
    """The last moment of a part is its own, the next one the next part's."""
    programme = parse_programme("full:10s,dark:5s", "--programme")
    names = [programme.at(run_s).part.name for run_s in (0, 9.9, 10, 14.9, 15, 24.9, 25)]
    assert names == ["full", "full", "dark", "dark", "full", "full", "dark"]
    assert [programme.at(run_s).round for run_s in (0, 14.9, 15, 30)] == [0, 0, 1, 2]
    assert programme.at(12).left_s == pytest.approx(3)


def test_the_looks_of_a_part_follow_each_other():
    """Red, green, blue, ten seconds each."""
    programme = parse_programme("primaries", "--programme")
    colours = [programme.at(run_s).look.params["colour"] for run_s in (0, 10, 20, 30, 89.9)]
    assert colours == ["red", "green", "blue", "red", "blue"]


def test_the_same_moment_is_the_same_picture_whenever_it_is_asked():
    """Also after a week, and asked backwards."""
    programme = usual_programme(has_fixtures=True)
    moments = list(np.arange(0.25, programme.round_s, 0.5))
    once = [programme.at(each) for each in moments]
    assert [programme.at(each) for each in reversed(moments)] == once[::-1]
    week = programme.round_s * round(7 * DAY_S / programme.round_s)
    assert [programme.at(week + each).look for each in moments] == [each.look for each in once]


def test_what_is_written_down_of_a_programme_makes_the_same_one():
    """The journal keeps it in words; a run that is taken up goes by them."""
    for text in ("full:90s,dark", "data:1h30m", "full , DARK:2m"):
        programme = parse_programme(text, "--programme")
        assert parse_programme(programme.words, "the journal") == programme


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("ful", "there is no part 'ful'. The parts are full, surge"),
        ("full:0s", "'0s' is not a time of at least a second"),
        ("full:-5s", "'-5s' is not a time"),
        ("full:", "'' is not a time"),
        ("", "there is no part ''"),
        ("full,,dark", "there is no part ''"),
        ("full," * 60 + "full", "it has 61 parts. Write at most 50"),
    ],
)
def test_what_is_wrong_with_a_programme_is_told(text: str, told: str):
    """In words, with what there is instead."""
    with pytest.raises(PlanError, match="--programme") as caught:
        parse_programme(text, "--programme")
    assert told in str(caught.value)


def test_every_look_is_a_show_that_the_engine_takes():
    """Its pattern is there, its parameters are known, and the level is the one asked for."""
    for part in PARTS:
        for look in part.looks:
            show = look.show(42.0, RATE_HZ)
            assert show.level_percent == 42.0
            assert get(show.pattern).name == show.pattern


def test_no_look_follows_another_within_a_third_of_a_second():
    """WCAG 2.x, success criterion 2.3.1: at most three flashes a second."""
    programme = usual_programme(has_fixtures=True)
    moments = np.arange(0, 2 * programme.round_s, 0.1)
    looks = [programme.at(each).look for each in moments]
    changes = [moment for moment, (a, b) in zip(moments, pairwise(looks), strict=False) if a != b]
    assert min(np.diff(changes)) > 4.5


@pytest.mark.rig
def test_the_whole_round_on_the_boathouse_never_needs_the_flash_guard():
    """What would flash is not in the programme in the first place: the guard lets every frame through."""
    display = sample_display()
    programme = parse_programme("surge:11s,primaries:21s,data:5s,ramp:5s,dark:2s,full:2s", "here")
    stage = Stage(Setup(display=display), programme.at(0).look.show(100.0, RATE_HZ), UUID(int=1), 0.0)
    shown = []
    for number in range(int(1.2 * programme.round_s * RATE_HZ)):
        now_s = number / RATE_HZ
        stage.player.change(programme.at(now_s).look.show(100.0, RATE_HZ))
        frame = stage.admit(stage.player.picture(now_s), now_s)
        shown.append(frame.nodes[::50].ravel().copy())
    assert stage.guard.held == 0
    for signal in np.unique(np.stack(shown), axis=1).T:
        assert _most_flashes(signal, RATE_HZ) <= 3
