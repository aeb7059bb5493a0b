"""What receivers see when streams pass from show to show and from run to run: nothing, or a farewell."""

from typing import Any

import numpy as np
import pytest

from streamer.engine.messages import Show, State
from streamer.errors import PlanError
from tests.engine.bench import JETTY, Bench, assert_unbroken, boathouse, is_dark, play, shows


def test_sequences_go_on_across_changes_of_everything(bench: Bench):
    """E1.31-2018 6.2.5: pattern, level, rate, ports, step, dark: one counter, no gap."""
    run = bench.start(play("walk"))
    for change in (
        {"pattern": "walk", "level_percent": 20},
        {"pattern": "walk", "level_percent": 20, "rate_hz": 10},
        {"pattern": "count", "rate_hz": 44, "ports": ("jetty/2",)},
        {"pattern": "level", "rate_hz": 1},
        {"pattern": "order"},
    ):
        bench.pass_time(1.3)
        run.change(Show(**change), bench.now_s)
    run.player.dark = True
    bench.pass_time(1)
    run.end("stopped", bench.now_s)
    bench.pass_time(1)
    assert_unbroken(bench.packets)
    assert {packet.key.universe for packet in bench.packets} == {1, 2, 7}


def test_a_change_to_neighbours_shows_no_dark_frame_and_leaves_no_gap(bench: Bench):
    """From a level to a probe of universes 10 and 11, with a keep-alive due before the next frame."""
    bench.start(play("level", boathouse(10, 11), rate_hz=1))
    bench.pass_time(5.2)
    shows(bench, "probe", rate_hz=1)
    bench.pass_time(5)
    for universe in (10, 11):
        sent = bench.of(universe)
        assert not any(is_dark(packet.slots) for packet in sent)
        assert np.diff([packet.at_s for packet in sent]).max() <= 1.0
    assert {packet.key.universe for packet in bench.packets} == {6, 7, 8, 9, 10, 11, 12}
    assert_unbroken(bench.packets)


def test_neighbours_that_leave_get_dark_and_three_terminated_and_the_rest_nothing_of_it(bench: Bench):
    """From the probe to a level: 9, 11 and 13 end, 10 and 12 never flinch."""
    bench.start(play("probe", boathouse(10, 12)))
    bench.pass_time(3.01)
    shows(bench, "level")
    after = bench.pass_time(3)
    for universe in (9, 11, 13):
        last = [packet for packet in after if packet.key.universe == universe]
        assert [packet.is_terminated for packet in last] == [False] * 4 + [True] * 3
        assert all(is_dark(packet.slots) for packet in last)
    for universe in (10, 12):
        lasting = [packet for packet in after if packet.key.universe == universe]
        assert not any(packet.is_terminated or is_dark(packet.slots) for packet in lasting)
        assert np.diff([packet.at_s for packet in bench.of(universe)]).max() <= 1.0
    assert_unbroken(bench.packets)


@pytest.mark.parametrize("pause_s", [0.0, 0.03, 0.09, 0.12, 1.0])
def test_neighbours_that_come_back_during_their_farewell_go_on_counting(bench: Bench, pause_s: float):
    """Probe, level, probe: from then on no more of the farewell, and no number twice."""
    bench.start(play("probe", boathouse(10, 12)))
    bench.pass_time(1)
    shows(bench, "level")
    bench.pass_time(pause_s)
    shows(bench, "probe")
    back = bench.pass_time(3)
    assert not any(packet.is_terminated for packet in back)
    assert {9, 11, 13} <= {packet.key.universe for packet in back}
    assert_unbroken(bench.packets)


def test_the_state_of_hand_and_dark_outlasts_a_change_to_neighbours(bench: Bench):
    """A person who has the lights dark, or the pattern in hand, keeps it so."""
    run = bench.start(play("walk"))
    run.player.in_hand = run.player.dark = True
    shows(bench, "probe")
    dark = run.state
    run.player.dark = False
    assert (dark, run.state) == (State.DARK, State.IN_HAND)


def test_a_run_that_replaces_another_takes_its_streams_over(bench: Bench):
    """No dark frame and no terminated packet on universe 1; universe 2 leaves as it should; 3 begins."""
    bench.start(play("level", boathouse(1, 2)))
    bench.pass_time(2.01)
    bench.start(play("level", boathouse(1, 3), level_percent=50))
    after = bench.pass_time(2)
    assert not any(is_dark(packet.slots) or packet.is_terminated for packet in bench.of(1))
    assert [p.is_terminated for p in after if p.key.universe == 2] == [False] * 4 + [True] * 3
    assert any(packet.key.universe == 3 for packet in after)
    assert np.diff([packet.at_s for packet in bench.of(1)]).max() <= 1.0
    assert bench.runs[0].is_over
    assert_unbroken(bench.packets)


def test_streams_handed_from_run_to_run_and_back_go_on_counting(bench: Bench):
    """Universe 2 leaves and returns while it is being said farewell to."""
    for display in (boathouse(1, 2), boathouse(1, 3), boathouse(1, 2), boathouse(2)):
        bench.start(play("walk", display))
        bench.pass_time(0.06)
    bench.pass_time(3)
    assert_unbroken(bench.packets)
    assert not bench.of(2)[-1].is_terminated
    assert bench.of(3)[-1].is_terminated


def test_a_change_has_streams_back_that_the_run_before_is_saying_farewell_to(bench: Bench):
    """Probe lights universe 2 beside universe 1, bits does not; nobody else darkens what is lit again."""
    bench.start(play("probe", boathouse(1), pace=0))
    bench.pass_time(0.04)
    bench.start(play("bits", boathouse(1)))
    bench.pass_time(0.04)
    shows(bench, "probe", pace=0)
    after = [packet for packet in bench.pass_time(1) if packet.key.universe == 2]
    assert after
    assert not any(is_dark(packet.slots) or packet.is_terminated for packet in after)
    assert_unbroken(bench.packets)


def test_a_run_to_another_destination_ends_the_streams_to_the_old_one(bench: Bench):
    """The same universe at another address is another stream."""
    bench.start(play("level", boathouse(1)))
    bench.pass_time(1)
    display = boathouse(1)
    jetty, slipway = display.controllers
    moved = jetty.model_copy(update={"address": "127.0.0.9"})
    bench.start(play("level", display.model_copy(update={"controllers": (moved, slipway)})))
    bench.pass_time(1)
    old = [packet for packet in bench.of(1) if packet.key.address == JETTY]
    new = [packet for packet in bench.of(1) if packet.key.address == "127.0.0.9"]
    assert [packet.is_terminated for packet in old[-4:]] == [False, True, True, True]
    assert not any(packet.is_terminated or is_dark(packet.slots) for packet in new)


def test_a_run_after_the_end_of_another_goes_on_counting(bench: Bench):
    """Stopped and started again, the sequence does not jump back (6.2.5)."""
    run = bench.start(play("walk"))
    bench.pass_time(1)
    run.end("stopped", bench.now_s)
    bench.pass_time(1)
    bench.start(play("walk"))
    bench.pass_time(1)
    assert_unbroken(bench.packets)


def test_starting_and_stopping_cannot_be_used_to_flash(bench: Bench):
    """The guard remembers from run to run: a fourth start in a second shows its picture later."""
    lit = []
    for _ in range(6):
        run = bench.start(play("level"))
        bench.pass_time(0.03)
        lit.append(not is_dark(bench.of(1)[-1].slots))
        run.end("stopped", bench.now_s)
        bench.pass_time(0.12)
    assert lit == [True, True, True, False, False, False]


@pytest.mark.parametrize(
    "change",
    [
        {"pattern": "nothing"},
        {"pattern": "probe", "params": {"nothing": 1}},
        {"pattern": "probe", "ports": ("x",)},
    ],
)
def test_a_change_that_is_refused_changes_nothing(bench: Bench, change: dict[str, Any]):
    """The streams, the pattern and the counters go on, even where the change would have laid all out anew."""
    run = bench.start(play("walk"))
    bench.pass_time(1)
    with pytest.raises((PlanError, ValueError)):
        run.change(Show(**change), bench.now_s)
    bench.pass_time(1)
    assert run.show.pattern == run.player.show.pattern == "walk"
    assert {packet.key.universe for packet in bench.packets} == {1, 2, 7}
    assert_unbroken(bench.packets)
