from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from patterns.plain import Frame, Layout, Value
from patterns.registry import get, settle

MakeLayout = Callable[..., Layout]
Show = Callable[..., Frame]
Tell = Callable[..., str]


def centre(frame: Frame, along: NDArray[np.float32]) -> float:
    """Return the middle of the light on the axis, weighed by brightness."""
    light = frame.nodes.max(axis=1).astype(float)
    return float((along * light).sum() / light.sum())


def steps_of(layout: Layout, **given: Value) -> int:
    """Return the steps of a round."""
    return get("sweep").steps(layout, settle(get("sweep"), given))


@pytest.mark.parametrize(("axis", "column"), [("x", 0), ("y", 1)])
@pytest.mark.parametrize("edge", ["soft", "hard"])
def test_the_light_moves_from_low_to_high(
    axis: str, column: int, edge: str, make_layout: MakeLayout, show: Show
):
    """Its middle never goes back, starts in the lowest tenth and ends in the highest."""
    layout = make_layout(*[60] * 60)
    along = layout.positions[:, column]
    middles = [
        centre(show("sweep", layout, step, axis=axis, edge=edge), along) for step in range(steps_of(layout))
    ]
    span = along.max() - along.min()
    assert (np.diff(middles) >= -1e-6).all()
    assert middles[0] < along.min() + span / 10
    assert middles[-1] > along.max() - span / 10


@pytest.mark.parametrize("width", [2, 10, 100])
def test_a_hard_plane_lights_what_is_within_it_and_nothing_else(
    width: int, make_layout: MakeLayout, show: Show
):
    """The nodes within half the width of the plane are lit in full, and in a round every node is."""
    layout = make_layout(101)
    x = layout.positions[:, 0].astype(float)
    ever = np.zeros(101, bool)
    for step in range(steps_of(layout)):
        plane = 10.0 * (step + 0.5) / 100
        nodes = show("sweep", layout, step, edge="hard", width=width).nodes
        away = np.abs(x - plane)
        assert nodes[away < 10 * width / 200 - 1e-4].any(axis=1).all()
        assert not nodes[away > 10 * width / 200 + 1e-4].any()
        assert set(nodes.max(axis=1).tolist()) <= {0, 255}
        ever |= nodes.any(axis=1)
    assert ever.all()


def test_a_soft_plane_fades_with_distance(make_layout: MakeLayout, show: Show):
    """The nearer to the plane, the brighter."""
    layout = make_layout(101)
    nodes = show("sweep", layout, 50, width=40).nodes
    light = nodes.max(axis=1).astype(int)[np.argsort(np.abs(layout.positions[:, 0] - 5.05), kind="stable")]
    assert light[0] > 240
    assert (np.diff(light) <= 0).all()
    assert len(set(light.tolist())) > 10


def test_by_port_every_string_is_lit_in_turn(make_layout: MakeLayout, show: Show, tell: Tell):
    """One whole string at a time with a hard edge, in order, each as long; and its name is told."""
    layout = make_layout(5, 50, 1, 7)
    turns = []
    for step in range(steps_of(layout, axis="port")):
        lit = show("sweep", layout, step, axis="port", edge="hard").nodes.any(axis=1)
        (string,) = set(layout.string_of_node[lit].tolist())
        assert lit.sum() == layout.string_lengths[string]
        assert tell("sweep", layout, step, axis="port").endswith(layout.string_names[string])
        turns.append(string)
    assert turns == sorted(turns)
    assert [turns.count(string) for string in range(4)] == [25] * 4


def test_a_flat_display_says_that_nothing_moves(make_layout: MakeLayout, show: Show, tell: Tell):
    """Where every z is the same all nodes are lit, and the words say why."""
    layout = make_layout(5, 5)
    assert show("sweep", layout, 3, axis="z").nodes.any(axis=1).all()
    assert tell("sweep", layout, 3, axis="z") == "every node has the same z, 0.00 m: nothing moves"
