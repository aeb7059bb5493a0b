"""Currents are held in what is really sent, whatever the pattern, by hand or by itself."""

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from patterns.plain import Frame
from patterns.registry import all_patterns
from streamer.display.electrics import NodeKind, Supply
from streamer.display.model import Display
from streamer.engine.messages import DIMMED_TOLD, Show, State, Status
from streamer.engine.source import Source
from streamer.engine.telling import status_of
from tests.engine.bench import CID, Bench, boathouse, play

COLOUR_MA, IDLE_MA, NODES = 18.5, 1.0, 50
FUSE_A, SHED_A = 2.0, 4.0
FUSE_LIMIT_A, SHED_LIMIT_A = 0.8 * FUSE_A, 0.8 * SHED_A
"""NEC 210.20(A), 215.3: 80 % of a rating for loads of hours."""
PATTERNS = [pattern.name for pattern in all_patterns()]
SLOTS = NODES * 3


def fused(fuse_a: float = FUSE_A, shed_a: float = SHED_A) -> Display:
    """Return the bench's boathouse with three strings, each behind a fuse, all on one supply."""
    display = boathouse(1, 2, 3)
    jetty, slipway = display.controllers
    ports = tuple(
        port.model_copy(update={"fuse_a": fuse_a, "supply": "shed", "node_kind": "made"})
        for port in jetty.ports
    )
    return display.model_copy(
        update={
            "controllers": (jetty.model_copy(update={"ports": ports}), slipway),
            "supplies": (Supply(name="shed", volts=5, amps=shed_a),),
            "node_kinds": (
                NodeKind(name="made", volts=5, volts_min=4.5, full_ma=(COLOUR_MA,) * 3, idle_ma=IDLE_MA),
            ),
        }
    )


def amps_of(slots: bytes) -> float:
    """Return what a string draws: I = n Iq + the sum of v / 255 x Ic, with no circuit looked at."""
    return (NODES * IDLE_MA + sum(slots[:SLOTS]) / 255 * COLOUR_MA) / 1000


def assert_held(bench: Bench) -> None:
    """At every moment, each string is under its fuse's limit and all of them under the supply's."""
    newest: dict[int, bytes] = {}
    for at, packet in enumerate(bench.packets):
        if packet.key.universe in {1, 2, 3}:
            newest[packet.key.universe] = packet.slots
            assert amps_of(packet.slots) <= FUSE_LIMIT_A
        is_last_of_moment = at + 1 == len(bench.packets) or bench.packets[at + 1].at_s > packet.at_s
        if is_last_of_moment:
            assert sum(map(amps_of, newest.values())) <= SHED_LIMIT_A


moves = st.one_of(
    st.tuples(st.just("step"), st.integers(-500, 500)),
    st.tuples(st.just("jump"), st.integers(0, 2000)),
    st.tuples(st.just("level"), st.integers(0, 100)),
    st.tuples(st.just("pattern"), st.sampled_from(PATTERNS)),
    st.tuples(st.just("hold"), st.integers(0, 1)),
    st.tuples(st.just("dark"), st.integers(0, 1)),
    st.tuples(st.just("wait"), st.integers(1, 20)),
)


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(st.sampled_from(PATTERNS), st.lists(moves, max_size=12))
def test_no_pattern_and_no_hand_gets_round_the_limits(first: str, done: Sequence[tuple[str, object]]):
    """Every pattern there is, at full level, stepped, jumped, changed and darkened at will."""
    bench = Bench(source=Source(CID))
    run = bench.start(play(first, fused()))
    show = run.show
    for what, value in done:
        bench.pass_time(0.06)
        match what, value:
            case "step", int(by):
                run.player.step_by(by)
            case "jump", int(step):
                run.player.jump(step)
            case "level", int(percent):
                show = show.model_copy(update={"level_percent": percent})
                run.change(show, bench.now_s)
            case "pattern", str(name):
                show = Show(pattern=name, level_percent=100)
                run.change(show, bench.now_s)
            case "hold", int(on):
                run.player.in_hand = bool(on)
            case "dark", int(on):
                run.show_dark(bench.now_s, on=bool(on))
            case _, int(frames):
                bench.pass_time(frames / 40)
    bench.pass_time(0.1)
    assert_held(bench)


def test_full_white_is_dimmed_to_the_limit_and_told(bench: Bench):
    """Three strings of 2.825 A ask 8.475 A of a supply that gives 3.2 A for hours."""
    run = bench.start(play("level", fused()))
    bench.pass_time(0.1)
    assert_held(bench)
    told = status_of(run, Status(state=State.IDLE), 1, bench.now_s).dimmed
    assert [(dimmed.name, dimmed.is_supply) for dimmed in told] == [
        ("jetty/1", False), ("jetty/2", False), ("jetty/3", False), ("shed", True),
    ]  # fmt: skip
    assert told[0].asked_a == pytest.approx(2.825)
    assert told[0].limit_a == pytest.approx(1.6)
    assert told[0].words == "jetty/1 to 56 % (1.6 of 2.8 A)"
    assert told[3].words == "supply shed to 66 % (3.2 of 4.8 A)"
    assert run.counts().dimmed == run.counts().frames


def test_nothing_is_told_when_nothing_is_dimmed(bench: Bench):
    """At a level that all limits bear, and without any limits."""
    for display, level in ((fused(), 30), (boathouse(1, 2, 3), 100)):
        run = bench.start(play("level", display, level_percent=level))
        bench.pass_time(0.1)
        assert status_of(run, Status(state=State.IDLE), 1, bench.now_s).dimmed == ()
        assert run.counts().dimmed == 0
        assert bench.of(1)[-1].slots[0] == 255 * level // 100


def test_fixtures_are_not_dimmed(bench: Bench):
    """A floodlight has its own supply; the limits are those of strings."""
    run = bench.start(play("level", fused()))
    white = Frame(np.full((3 * NODES, 4), 255, np.uint8), np.full(2, 255, np.uint8))
    sent = run.stage.admit(white, bench.now_s)
    assert sent.nodes.max() < 255
    assert (sent.channels == 255).all()


def test_no_more_is_told_than_a_person_reads(bench: Bench):
    """Of twelve fuses at their limit, the strictest eight."""
    display = boathouse(*range(1, 13))
    jetty, slipway = display.controllers
    ports = tuple(
        port.model_copy(update={"fuse_a": 1.0 + index / 10}) for index, port in enumerate(jetty.ports)
    )
    display = display.model_copy(update={"controllers": (jetty.model_copy(update={"ports": ports}), slipway)})
    run = bench.start(play("level", display))
    bench.pass_time(0.1)
    told = status_of(run, Status(state=State.IDLE), 1, bench.now_s).dimmed
    assert len(told) == DIMMED_TOLD
    assert [dimmed.percent for dimmed in told] == sorted(dimmed.percent for dimmed in told)
    assert told[0].name == "jetty/1"


def test_the_universes_beside_the_planned_ones_leave_the_limits_in_force(bench: Bench):
    """The probe plays on a wider display, whose ports come in another order."""
    probes = [pattern.name for pattern in all_patterns() if pattern.neighbours]
    for name in probes:
        run = bench.start(play(name, fused()))
        run.player.in_hand = True
        for step in range(0, run.player.steps, 3):
            run.player.jump(step)
            bench.pass_time(0.05)
    assert probes
    assert any(any(packet.slots) for packet in bench.packets)
    assert_held(bench)
