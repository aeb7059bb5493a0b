"""Whatever is asked of runs, few nodes or many: what is sent is what was asked, and who looks sees it."""

from collections.abc import Sequence
from operator import not_
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from patterns.plain import Param, Pattern, Value
from patterns.registry import all_patterns, get
from streamer.engine.messages import Show
from streamer.flash_rule import FLASHES_PER_S
from tests.engine.bench import is_dark
from tests.engine.drawn import Move, assert_calm, assert_in_order
from tests.engine.watching import FEW, MANY, SLOWEST_HZ, Watched

OFTEN = ("probe", "walk", "sweep", "ramp")
"""One that plays other streams than the rest, and those that are known in short."""
PATTERNS = [*all_patterns(), *map(get, OFTEN * 5)]
PORTS = ("a/1", "b/1", "b/2")


def _values(param: Param) -> st.SearchStrategy[Value]:
    if isinstance(param.default, bool):
        return st.booleans()
    if isinstance(param.default, str):
        return st.sampled_from(param.choices or (param.default,))
    low, high = int(param.low or 0), int(param.high or 0)
    return st.sampled_from([low, min(low + 2, high), high])


def _shows(pattern: Pattern) -> st.SearchStrategy[Show]:
    params: dict[str, st.SearchStrategy[Value]] = {param.name: _values(param) for param in pattern.params}
    return st.builds(
        Show,
        pattern=st.just(pattern.name),
        params=st.fixed_dictionaries({}, optional=params),
        pace=st.sampled_from([None, 0.0, 5.0, 20.0]),
        ports=st.sampled_from([None, None, PORTS]),
        level_percent=st.sampled_from([3.0, 30.0, 100.0]),
        rate_hz=st.sampled_from([SLOWEST_HZ, 25.0, 40.0]),
    )


SHOWS = st.one_of([_shows(pattern) for pattern in PATTERNS])
MOSTLY_NOT = st.sampled_from([False, False, False, True])
"""For what lasts until it is taken back."""
MOVES: st.SearchStrategy[Move] = st.one_of(
    st.tuples(st.just("show"), SHOWS),
    st.tuples(st.just("show"), SHOWS),
    st.tuples(st.just("again"), SHOWS),
    st.tuples(st.just("step"), st.integers(-3, 3)) | st.tuples(st.just("jump"), st.integers(0, 2000)),
    st.tuples(st.just("hold"), MOSTLY_NOT),
    st.tuples(st.just("dark"), MOSTLY_NOT),
    st.tuples(st.just("calm"), st.integers(1, FLASHES_PER_S)),
    st.tuples(st.just("look"), MOSTLY_NOT.map(not_)),
)


class Evening(NamedTuple):
    """What is played on which display, and what is asked meanwhile."""

    nodes: int
    is_fused: bool
    setup: dict[str, Any]
    first: Show
    asked: Sequence[tuple[Sequence[Move], float]]
    """Some moves at one moment, and for how long nothing is asked after them."""


EVENINGS = st.builds(
    Evening,
    st.sampled_from([FEW, MANY, MANY]),
    st.booleans(),
    st.fixed_dictionaries({"spread": st.sampled_from([None, 0.5, 0.5]), "every_frame": st.booleans()}),
    SHOWS,
    st.lists(
        st.tuples(st.lists(MOVES, min_size=1, max_size=3), st.sampled_from([0.0, 0.2, 0.7])),
        min_size=3,
        max_size=10,
    ),
)


def _play(evening: Evening) -> None:
    with TemporaryDirectory() as folder:
        watched = Watched(Path(folder), evening.nodes, evening.setup, evening.is_fused)
        watched.begin(evening.first)
        for moves, pause_s in evening.asked:
            for move in moves:
                watched.do(*move)
                watched.assert_seen_as_sent()
            if watched.pass_frames(pause_s):
                watched.assert_sent_as_asked()
            watched.assert_seen_as_sent()
    watched.run.end("stopped", watched.bench.now_s)
    last = watched.bench.pass_time(1)
    assert last
    assert all(is_dark(packet.slots) for packet in last)
    assert_in_order(watched.bench.packets)
    if not evening.setup["spread"]:
        assert_calm(watched.bench.packets, FLASHES_PER_S)


WALK = Show(pattern="walk", params={"rest": "dim"}, rate_hz=SLOWEST_HZ)
PROBE = Show(pattern="probe", rate_hz=SLOWEST_HZ)
IN_PIECES = {"spread": 0.5}
STEPPED_IN_THE_DARK = Evening(
    MANY, False, IN_PIECES, WALK, [([("dark", True)], 0.2), ([("step", 3), ("dark", False)], 0.2)]
)
LAID_OUT_ANEW, AND_BACK = (
    Evening(FEW, False, IN_PIECES, first, [([("look", False)], 0.7), ([("show", then), ("look", True)], 0.2)])
    for first, then in ((WALK, PROBE), (PROBE, WALK))
)
"""Unseen, and seen again before its first frame."""


@settings(max_examples=20, deadline=None)
@given(EVENINGS)
@example(STEPPED_IN_THE_DARK)
@example(LAID_OUT_ANEW)
@example(AND_BACK)
def test_what_is_sent_is_what_was_asked_and_who_looks_sees_it(evening: Evening):
    """Made from nothing and held against packets and shared frame: at every pause, and at every move."""
    _play(evening)


@pytest.mark.slow
@settings(max_examples=400, deadline=None)
@given(EVENINGS)
def test_so_it_is_for_many_evenings(evening: Evening):
    """The same, for longer."""
    _play(evening)
