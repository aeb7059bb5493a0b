"""Burst: one universe more at each step, and what is lost can be told by its colour."""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np

from patterns.plain import Frame, Layout
from patterns.registry import get, settle

MakeLayout = Callable[..., Layout]
Show = Callable[..., Frame]
Tell = Callable[..., str]


def lit(frame: Frame, layout: Layout) -> list[str]:
    """Return the colour of each string by its letter, "." for dark; every node of it has that."""
    letters = {(0, 0, 0): ".", (255, 0, 0): "R", (0, 255, 0): "G", (0, 0, 255): "B"}
    strings = np.split(frame.nodes[:, :3], layout.string_starts[1:])
    assert all((nodes == nodes[0]).all() for nodes in strings)
    return [letters[tuple(nodes[0].tolist())] for nodes in strings]


def test_each_step_one_universe_more_and_all_in_one_colour(show: Show, make_layout: MakeLayout):
    """Four universes of 50 nodes: bursts of 1, 2, 3, 4, and the last again until the colours come round."""
    layout = make_layout(50, 50, 50, 50)
    assert ["".join(lit(show("burst", layout, step), layout)) for step in range(7)] == [
        *("R...", "GG..", "BBB.", "RRRR", "GGGG", "BBBB", "R...")
    ]


def test_every_universe_of_a_burst_changes_with_it(show: Show, make_layout: MakeLayout):
    """On to the next step, back to the one before, and from the last to the first: a packet for each."""
    for universes in range(1, 12):
        layout = make_layout(*[10] * universes)
        steps = get("burst").steps(layout, settle(get("burst"), {}))
        for here, there in pairwise([*range(steps), 0, steps - 1]):
            frame, before = (show("burst", layout, step).nodes for step in (there, here))
            changed = np.add.reduceat((frame != before).any(axis=1), layout.string_starts) > 0
            now_lit = np.add.reduceat(frame.any(axis=1), layout.string_starts) > 0
            assert changed[now_lit].all()


def test_a_string_of_several_universes_counts_as_many(show: Show, tell: Tell, make_layout: MakeLayout):
    """Packets are what fills a buffer, not strings; two strings may share one."""
    layout = make_layout(50, 50, 50, universes=[7, 7, 9])
    assert lit(show("burst", layout, 0), layout) == ["R", "R", "."]
    assert "burst of 2 of 2 packets" in tell("burst", layout, 1)


def test_every_controller_gets_a_burst_of_its_own(show: Show, make_layout: MakeLayout):
    """The buffer is the controller's: all ramp together, whatever their universes are called."""
    layout = make_layout(5, 5, 5, 5, universes=[1, 2, 1, 3])
    names = ("jetty/1", "jetty/2", "roof/1", "roof/2")
    two = replace(layout, string_names=names)
    assert lit(show("burst", two, 0), two) == ["R", ".", "R", "."]
    assert lit(show("burst", two, 1), two) == ["G", "G", "G", "G"]


def test_the_bursts_can_be_chosen(show: Show, tell: Tell, make_layout: MakeLayout):
    """From 20 by 15 up to 60 of a hundred; the words name the size and the colour to look for."""
    layout = make_layout(*[1] * 100)
    given = {"first": 20, "by": 15, "most": 60}
    sizes = [int(show("burst", layout, step, **given).nodes.any(axis=1).sum()) for step in range(6)]
    assert sizes == [20, 35, 50, 60, 60, 60]
    words = tell("burst", layout, 1, **given)
    assert words == "burst of 35 of 60 packets to each controller: their lights all green"
