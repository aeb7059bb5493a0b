"""No pattern flashes more than three times in any one second, at its fastest pace.

WCAG 2.2, success criterion 2.3.1, "general flash threshold": no more than three general flashes in any one
second; a flash is a pair of opposing changes of 10 % or more of the maximum. WCAG weighs relative luminance;
here each component counts by itself, which is stricter (blue alone changes luminance by only 7 %).
"""

import math
from collections.abc import Callable, Iterable, Iterator
from itertools import pairwise

import numpy as np
import pytest

from patterns.plain import Layout, Moment, Pattern, Value
from patterns.registry import all_patterns, settle

MakeLayout = Callable[..., Layout]

MOST_FLASHES = 3
CHANGE = 25.5
"""10 % of full."""
LANTERN = ("dimmer", "red", "green", "blue")


def _changes(values: list[float]) -> list[int]:
    """Return the steps at which the value has turned by CHANGE or more against its last turn."""
    turns, low, high, way = [], values[0], values[0], 0
    for step, value in enumerate(values):
        if step and value == values[step - 1]:
            continue
        low, high = min(low, value), max(high, value)
        if way <= 0 and value - low >= CHANGE:
            turns.append(step)
            way, low, high = 1, value, value
        elif way >= 0 and high - value >= CHANGE:
            turns.append(step)
            way, low, high = -1, value, value
    return turns


def _most_flashes(values: Iterable[float], pace: float) -> float:
    """Return the most pairs of opposing changes within any one second, both its ends counted."""
    turns = _changes([float(value) for value in values])
    within = [sum(1 for turn in turns if start <= turn <= start + pace) for start in turns]
    return max(within, default=0) / 2


def _variants(pattern: Pattern) -> Iterator[dict[str, Value]]:
    """Yield the defaults and each other choice; colours differ only in which components are lit."""
    yield {}
    for param in pattern.params:
        if param.name == "colour":
            continue
        others: list[Value] = list(param.choices)
        if isinstance(param.default, bool):
            others = [not param.default]
        yield from ({param.name: other} for other in others if other != param.default)


@pytest.mark.parametrize("pattern", all_patterns(), ids=lambda pattern: pattern.name)
@pytest.mark.parametrize("strings", [1, pytest.param(2, marks=pytest.mark.slow), 4])
def test_no_light_flashes_more_than_three_times_a_second(
    pattern: Pattern, strings: int, make_layout: MakeLayout
):
    """At the fastest pace, no component of 100 nodes a string, and no fixture channel, over two rounds."""
    fixtures = [LANTERN, LANTERN] if strings > 2 else [("dimmer",)] * 2
    layout = make_layout(*[100] * strings, white=[True] * strings, fixtures=fixtures)
    for given in _variants(pattern):
        params = settle(pattern, given)
        steps = max(2 * min(pattern.steps(layout, params), 600), 4 * math.ceil(pattern.pace_limit))
        frames = [
            pattern.render(layout, Moment(step, step / pattern.pace_limit), params) for step in range(steps)
        ]
        signals = np.concatenate(
            [np.stack([f.nodes for f in frames]).reshape(steps, -1), np.stack([f.channels for f in frames])],
            axis=1,
        )
        for signal in np.unique(signals, axis=1).T:
            assert _most_flashes(signal, pattern.pace_limit) <= MOST_FLASHES


def test_the_flash_counter_sees_four_flashes():
    """On and off four times in a second is counted as more than three; a slow swell is none."""
    assert _most_flashes([0, 255] * 8, pace=8.0) > MOST_FLASHES
    assert _most_flashes([0, 255] * 8, pace=2.0) <= 1.5
    assert all(later > earlier for earlier, later in pairwise(_changes([0, 255] * 8)))
    assert _most_flashes(range(256), pace=44.0) <= 0.5
