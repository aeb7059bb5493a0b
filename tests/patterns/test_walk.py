from collections.abc import Callable

import numpy as np

from patterns.plain import Frame, Layout

MakeLayout = Callable[..., Layout]
Show = Callable[..., Frame]
Tell = Callable[..., str]

LENGTHS = (5, 120, 50)


def lit(frame: Frame) -> list[int]:
    """Return the indices of the nodes at full light."""
    return np.flatnonzero(frame.nodes.max(axis=1) == 255).tolist()


def test_step_s_lights_node_s_of_each_string_and_no_other(make_layout: MakeLayout, show: Show):
    """One node a string, the same number on every one; a string that has ended shows none."""
    layout = make_layout(*LENGTHS)
    starts = (0, 5, 125)
    for step in range(120):
        expected = [start + step for start, length in zip(starts, LENGTHS, strict=True) if step < length]
        frame = show("walk", layout, step)
        assert lit(frame) == expected
        assert np.count_nonzero(frame.nodes.any(axis=1)) == len(expected)
        assert {tuple(node) for node in frame.nodes[expected].tolist()} == {(0, 255, 0, 0)}


def test_a_window_ends_at_the_node_named(make_layout: MakeLayout, show: Show):
    """A window of three at step 4 is nodes 3, 4 and 5, and enters the string one node at a time."""
    layout = make_layout(10, 4)
    assert lit(show("walk", layout, 4, window=3)) == [2, 3, 4, 12, 13]
    assert lit(show("walk", layout, 0, window=3)) == [0, 10]


def test_one_string_after_the_other(make_layout: MakeLayout, show: Show, tell: Tell):
    """Apart, exactly one node of the whole display is lit, in order, and a window does not cross strings."""
    layout = make_layout(*LENGTHS)
    for step in range(175):
        assert lit(show("walk", layout, step, together="no")) == [step]
    assert lit(show("walk", layout, 6, together="no", window=4)) == [5, 6]
    assert tell("walk", layout, 130, together="no") == "jetty/3: node 6 of 50"


def test_the_rest_can_be_dim(make_layout: MakeLayout, show: Show):
    """With a dim rest every node gives some light, and the lit one is ten times brighter."""
    frame = show("walk", make_layout(10), 3, rest="dim")
    others = np.delete(frame.nodes, 3, axis=0)
    assert lit(frame) == [3]
    assert (others[:, :3] > 0).all()
    assert others.max() * 10 < 255


def test_the_words_name_the_node(make_layout: MakeLayout, tell: Tell):
    """Nodes count from 1, and strings that have ended are told."""
    assert tell("walk", make_layout(120, 120), 36) == "node 37 of 120"
    assert tell("walk", make_layout(*LENGTHS), 36) == "node 37 of 120; strings already at their end: 1"
    assert tell("walk", make_layout()) == "no nodes to walk along"
