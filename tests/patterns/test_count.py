from collections.abc import Callable

import numpy as np

from patterns.plain import Frame, Layout

MakeLayout = Callable[..., Layout]
Show = Callable[..., Frame]
Tell = Callable[..., str]


def bright(frame: Frame) -> list[int]:
    """Return the numbers, from 1, of the nodes at full light."""
    return [int(index) + 1 for index in np.flatnonzero(frame.nodes.max(axis=1) == 255)]


def test_marks_stand_at_ten_fifty_and_a_hundred(make_layout: MakeLayout, show: Show):
    """One lit node ends each ten, two each fifty, three each hundred; all others are dim."""
    frame = show("count", make_layout(210))
    expected: list[int] = []
    for number in range(10, 211, 10):
        lit = 3 if number % 100 == 0 else 2 if number % 50 == 0 else 1
        expected += range(number - lit + 1, number + 1)
    assert bright(frame) == expected
    others = np.delete(frame.nodes, np.array(expected) - 1, axis=0)
    assert (others[:, :3] > 0).all()
    assert others.max() < 25.5


def test_the_three_marks_differ_in_colour_too(make_layout: MakeLayout, show: Show):
    """Shape comes first, and colour agrees: three kinds of mark, three colours."""
    nodes = show("count", make_layout(100)).nodes
    assert len({bytes(nodes[9]), bytes(nodes[49]), bytes(nodes[99])}) == 3
    assert bytes(nodes[48]) == bytes(nodes[49])
    assert bytes(nodes[97]) == bytes(nodes[98]) == bytes(nodes[99])


def test_every_string_counts_from_its_own_head(make_layout: MakeLayout, show: Show):
    """Node 10 of the second string is marked, wherever the first one ends."""
    assert bright(show("count", make_layout(13, 20))) == [10, 23, 33]


def test_the_second_step_is_the_last_planned_node_alone(make_layout: MakeLayout, show: Show, tell: Tell):
    """One lit node a string, its last, and nothing else at all."""
    layout = make_layout(5, 100, 1)
    frame = show("count", layout, 1)
    assert bright(frame) == [5, 105, 106]
    assert np.count_nonzero(frame.nodes.any(axis=1)) == 3
    assert tell("count", layout, 1) == "only the last planned node of each string: node 1 to 100"
