"""The level, and the ports that are chosen."""

from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from patterns.plain import Frame, Lit
from streamer.display.layout import layout_of
from streamer.display.model import Controller, Display, Fixture, Protocol, Role
from streamer.engine.difference import EVERY, Change
from streamer.engine.guard import FlashGuard
from streamer.engine.limits import Limits
from streamer.errors import PlanError
from tests.engine.bench import boathouse

LAYOUT = layout_of(boathouse(1, 2))


def full(value: int = 255) -> Frame:
    """Return a frame of one value."""
    return Frame(np.full((100, 4), value, np.uint8), np.full(2, value, np.uint8))


def in_short(rest: int, nodes: list[int], value: int, *, is_alike: bool = True) -> Lit:
    """Return a picture of two values; or of three, if the few are not alike."""
    values = np.full((1 if is_alike else len(nodes), 4), value, np.uint8)
    values[1:] //= 2
    return Lit(np.full(4, rest, np.uint8), np.array(nodes, np.intp), values)


PICTURES = st.builds(
    in_short,
    st.sampled_from([0, 3, 200]),
    st.lists(st.integers(0, 99), unique=True, max_size=5) | st.just(list(range(100))),
    st.integers(0, 255),
    is_alike=st.booleans(),
)


@given(st.integers(0, 255), st.integers(0, 100))
def test_a_level_is_never_passed_by_rounding(value: int, level: int):
    """Rounded down, in exact arithmetic: a level may stand for a limit of current."""
    scaled = Limits(LAYOUT, level, None).apply(full(value)).nodes
    assert set(scaled.reshape(-1).tolist()) == {value * level // 100}


def test_the_default_level_of_30_percent_is_76_of_255():
    """255 x 0.3 = 76.5, rounded down."""
    assert Limits(LAYOUT, 30, None).apply(full()).nodes.max() == 76


@given(st.data())
def test_a_picture_in_short_is_shown_as_in_full(data: st.DataObject):
    """Whatever came before it, on ports that are chosen or not; and what has changed is told."""
    level, ports = data.draw(st.integers(0, 100)), data.draw(st.sampled_from([None, (), ("jetty/2",)]))
    limits, in_full = Limits(LAYOUT, level, ports), Limits(LAYOUT, level, ports)
    before, many = None, data.draw(st.sampled_from([1, 4096]))
    for _ in range(data.draw(st.integers(1, 6))):
        lit = data.draw(PICTURES)
        with patch("streamer.engine.difference.MANY_NODES", many):
            shown = limits.apply(lit if data.draw(st.integers(0, 3)) else LAYOUT.draw(lit))
        assert shown.nodes.tolist() == in_full.applied(LAYOUT.draw(lit)).nodes.tolist()
        if limits.totals:
            assert limits.totals.sums.tolist() == shown.nodes.sum(axis=0).tolist()
            assert limits.totals.highest == shown.nodes.max()
        assert shown.channels.tolist() == [0] * len(LAYOUT.channel_roles)
        if before is not None:
            as_it_was = np.ones(100, np.bool_)
            as_it_was[limits.altered] = False
            assert (shown.nodes == before)[as_it_was].all()
        before = shown.nodes.copy()


@given(st.lists(PICTURES, min_size=1, max_size=20), st.sampled_from([None, (), ("jetty/2",)]))
def test_a_picture_in_short_is_guarded_as_one_in_full(pictures: list[Lit], ports: tuple[str, ...] | None):
    """What the guard is told of it leads where looking for it does, also for nodes that stay as they are."""
    limits, told, looks, before = Limits(LAYOUT, 100, ports), FlashGuard(100, 2), FlashGuard(100, 2), None
    for number, lit in enumerate(pictures):
        frame = limits.apply(lit)
        change, before = Change(before, frame, limits.altered, limits.totals), frame
        in_full = Frame(frame.nodes.copy(), frame.channels.copy())
        assert told.admit(frame, number * 0.1, change).nodes.tolist() == (
            looks.admit(in_full, number * 0.1).nodes.tolist()
        )
        assert told.held == looks.held
        assert _known(told) == _known(looks)


def _known(guard: FlashGuard) -> tuple[object, ...]:
    """Return all that a guard knows of what it has let through."""
    nodes, whole = guard._nodes, guard._whole
    of_nodes = (nodes._mirror.tolist(), nodes._lowest.tolist(), np.array(nodes._flashes_s).tolist())
    return *of_nodes, guard._sums.tolist(), whole._is_up, whole._lowest, whole._flashes_s


def test_few_changes_of_many_nodes_are_told_apart():
    """One node goes on by one: that is two nodes, and no more; of few nodes, all are looked at."""
    limits = Limits(LAYOUT, 30, None)
    limits.apply(in_short(9, [3], 255))
    limits.apply(in_short(9, [4], 255))
    assert limits.altered == EVERY
    with patch("streamer.engine.difference.MANY_NODES", 100):
        limits.apply(in_short(9, [5], 255))
    assert sorted(np.arange(100)[limits.altered].tolist()) == [4, 5]


def test_the_frame_of_the_pattern_is_left_alone():
    """Patterns may keep what they made."""
    frame = full()
    Limits(LAYOUT, 30, ("jetty/1",)).apply(frame)
    assert frame.nodes.min() == 255


def test_only_the_chosen_ports_are_lit():
    """The second of two strings of 50."""
    nodes = Limits(LAYOUT, 100, ("jetty/2",)).apply(full()).nodes
    assert not nodes[:50].any()
    assert nodes[50:].all()


def test_with_no_port_chosen_all_are_dark():
    """An empty choice is a choice; none at all means every port."""
    assert not Limits(LAYOUT, 100, ()).apply(full()).nodes.any()
    assert Limits(LAYOUT, 100, None).apply(full()).nodes.all()


def test_a_port_that_is_not_there_is_refused_by_name():
    """Not passed over in silence, which would leave a person looking at dark strings."""
    with pytest.raises(PlanError, match="no port jetty/9"):
        Limits(LAYOUT, 100, ("jetty/1", "jetty/9"))


@pytest.mark.parametrize(
    ("roles", "scaled"),
    [
        ((Role.DIMMER, Role.RED, Role.STROBE), (127, 255, 255)),
        ((Role.RED, Role.GREEN, Role.BLUE, Role.WHITE, Role.AMBER, Role.UV), (127,) * 6),
        ((Role.PAN, Role.TILT, Role.OTHER, Role.UNUSED), (255,) * 4),
    ],
)
def test_a_fixture_is_dimmed_once_and_by_its_dimmer_if_it_has_one(
    roles: tuple[Role, ...], scaled: tuple[int, ...]
):
    """Both would square the level; strobe and pan are no brightness. Common practice, no source."""
    fixture = Fixture(name="flood", universe=1, channels=roles)
    slipway = Controller(name="slipway", protocol=Protocol.E131, address="multicast", fixtures=(fixture,))
    layout = layout_of(Display(name="boathouse", controllers=(slipway,)))
    frame = Frame(np.zeros((0, 4), np.uint8), np.full(len(roles), 255, np.uint8))
    assert tuple(Limits(layout, 50, None).apply(frame).channels.tolist()) == scaled
