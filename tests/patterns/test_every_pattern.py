"""What every pattern promises, whichever it is."""

import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import fields

import numpy as np
import pytest

from patterns.plain import Layout, Moment, Pattern, Value
from patterns.registry import all_patterns, settle

MakeLayout = Callable[..., Layout]
Layouts = tuple[Layout, ...]

LANTERN = ("dimmer", "red", "green", "blue", "strobe", "pan", "unused")
STEPS = (0, 1, 2, 7, 99, 1000, -1, -50, 10**30, -(10**30))
each_pattern = pytest.mark.parametrize("pattern", all_patterns(), ids=lambda pattern: pattern.name)


def _variants(pattern: Pattern) -> Iterator[dict[str, Value]]:
    """Yield the default parameters, and then each with one other choice, extreme or answer."""
    yield {}
    for param in pattern.params:
        others: list[Value] = [
            *param.choices,
            *(bound for bound in (param.low, param.high) if bound is not None),
        ]
        if isinstance(param.default, bool):
            others.append(not param.default)
        yield from ({param.name: other} for other in others)


@pytest.fixture(scope="module")
def layouts(make_layout: MakeLayout) -> Layouts:
    """Return displays of every kind: empty, of one node, mixed, and of fixtures alone."""
    return (
        make_layout(),
        make_layout(1),
        make_layout(1, 1, fixtures=[LANTERN]),
        make_layout(5, 100, 1, 50, white=[True, False, False, True], fixtures=[LANTERN, ("dimmer",)]),
        make_layout(fixtures=[("other", "unused")]),
    )


@each_pattern
def test_a_frame_has_a_value_for_each_node_and_channel(pattern: Pattern, layouts: Layouts):
    """Shapes and types are the layout's, for empty displays and any parameters and steps."""
    for layout in layouts:
        for given in _variants(pattern):
            for step in STEPS:
                frame = pattern.render(layout, Moment(step, 1.5), settle(pattern, given))
                assert frame.nodes.shape == (len(layout.place), 4)
                assert frame.channels.shape == (len(layout.channel_roles),)
                assert frame.nodes.dtype == frame.channels.dtype == np.uint8


@each_pattern
def test_the_same_inputs_give_the_same_bytes_and_stay_as_they_were(pattern: Pattern, make_layout: MakeLayout):
    """Rendering is pure: a later frame changes no earlier one, and nothing given is written to.

    Nor does it matter when a step is shown: the engine draws it once.
    """
    layout = make_layout(5, 100, 1, white=[True, False, False], fixtures=[LANTERN])
    for field in fields(layout):
        value = getattr(layout, field.name)
        if isinstance(value, np.ndarray):
            value.setflags(write=False)
    for given in _variants(pattern):
        params = settle(pattern, given)
        before = dict(params)
        first = pattern.render(layout, Moment(3, 0.1), params)
        kept = first.nodes.tobytes(), first.channels.tobytes()
        spoilt = pattern.render(layout, Moment(4, 0.2), params)
        spoilt.nodes.fill(9)
        spoilt.channels.fill(9)
        again = pattern.render(layout, Moment(3, 7.5), params)
        assert kept == (first.nodes.tobytes(), first.channels.tobytes())
        assert kept == (again.nodes.tobytes(), again.channels.tobytes())
        assert params == before


@each_pattern
def test_steps_wrap_both_ways(pattern: Pattern, layouts: Layouts):
    """A round later or a round earlier, a step is the same picture and the same words."""
    for layout in layouts:
        params = settle(pattern, {})
        round_ = pattern.steps(layout, params)
        assert round_ >= 1
        for step in range(min(round_, 20)):
            here = Moment(step, 0.0)
            for far in (
                Moment(step + round_, 0.0),
                Moment(step - round_, 0.0),
                Moment(step - 10**9 * round_, 0.0),
            ):
                assert np.array_equal(
                    pattern.render(layout, here, params).nodes, pattern.render(layout, far, params).nodes
                )
                assert pattern.describe(layout, here, params) == pattern.describe(layout, far, params)


@pytest.mark.parametrize("pattern", [each for each in all_patterns() if each.lit], ids=lambda each: each.name)
def test_a_picture_in_short_is_the_picture(pattern: Pattern, layouts: Layouts):
    """No node comes twice, and drawn in full it is what is rendered: with no channel lit."""
    assert pattern.lit
    for layout in layouts:
        for given in _variants(pattern):
            for step in STEPS:
                of = layout, Moment(step, 1.5), settle(pattern, given)
                lit, frame = pattern.lit(*of), pattern.render(*of)
                assert len(set(lit.nodes.tolist())) == len(lit.nodes)
                assert lit.values.shape in {(1, 4), (len(lit.nodes), 4)}
                in_full = np.tile(lit.rest, (len(layout.place), 1))
                in_full[lit.nodes] = lit.values
                assert frame.nodes.tolist() == in_full.tolist()
                assert not frame.channels.any()


@each_pattern
def test_the_words_are_one_short_line(pattern: Pattern, layouts: Layouts):
    """What is lit right now fits on a line, for every display, parameter and step."""
    for layout in layouts:
        for given in _variants(pattern):
            for step in STEPS:
                line = pattern.describe(layout, Moment(step, 0.0), settle(pattern, given))
                assert line.isprintable()
                assert 0 < len(line) <= 160


@each_pattern
def test_a_pattern_says_what_it_is_for(pattern: Pattern):
    """The list, the help and every parameter speak in sentences, and the paces are possible."""
    assert pattern.sentence.endswith(".")
    assert pattern.shows.endswith(".")
    assert all(param.sentence.endswith(".") for param in pattern.params)
    assert 0 <= pattern.pace <= pattern.pace_limit <= 44
    assert settle(pattern, {}) == {param.name: param.default for param in pattern.params}


@each_pattern
def test_a_thousand_strings_are_no_different(pattern: Pattern, make_layout: MakeLayout):
    """1,000 strings of two nodes each get a frame, and so do two of a thousand."""
    for layout in (make_layout(*[2] * 1000), make_layout(1000, 1000)):
        assert pattern.render(layout, Moment(5, 0.0), settle(pattern, {})).nodes.shape == (2000, 4)


def test_importing_patterns_loads_no_pattern():
    """`import patterns` is light: no pattern and no NumPy until they are asked for."""
    code = (
        "import patterns, sys;"
        "print(*(m for m in sys.modules if m.startswith(('patterns.', 'numpy', 'streamer'))))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == ""


def test_patterns_know_nothing_of_the_streamer():
    """Loading every pattern loads nothing of `streamer` or `tui`."""
    code = (
        "import sys; from patterns.registry import all_patterns; all_patterns();"
        "print(*(m for m in sys.modules if m.split('.')[0] in ('streamer', 'tui', 'textual')))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == ""
