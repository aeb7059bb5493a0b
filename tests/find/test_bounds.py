"""How few looks there can be, against information theory and the published values of searching with lies."""

import pytest

from streamer.find.answers import EYES
from streamer.find.belief import information
from streamer.find.finding import Bench, Finding
from streamer.find.kinds import Kind
from streamer.find.terms import Terms
from tests.find.closed_loop import Lawn, search
from tests.find.conftest import one_string
from tests.find.draws import faults_of

pytestmark = pytest.mark.slow

BREAKS = frozenset({Kind.BREAK, Kind.NOTHING})
COLOURS = 6


def least_looks(nodes: int, colours: int) -> int:
    """Return ceil(log_c(n + 1)) with integers: the last node with data may be none or any (Shannon 1948)."""
    looks, told = 0, 1
    while told < nodes + 1:
        looks, told = looks + 1, told * colours
    return looks


def test_the_bound_is_computed_with_integers():
    """log(216, 6) is a little over 3 in floating point, which would make the bound 4 (computed)."""
    assert [least_looks(n, 6) for n in (50, 100, 128, 170, 215, 340, 680, 1000)] == [3, 3, 3, 3, 3, 4, 4, 4]


LENGTHS = (50, 100, 128, 170, 340, 680)
QUICK = {(50, 1), (100, 4), (170, 1)}


@pytest.mark.parametrize(
    ("nodes", "segments"),
    [
        pytest.param(nodes, segments, marks=[] if (nodes, segments) in QUICK else pytest.mark.long)
        for nodes in LENGTHS
        for segments in (1, 4)
    ],
)
def test_a_break_needs_one_look_more_than_information_theory_allows_at_most(nodes: int, segments: int):
    """For every k, with truthful answers and six colours: ceil(log_6(n + 1)), and the confirmation."""
    pieces = [nodes // segments] * (segments - 1)
    display = one_string(nodes, *pieces, nodes - sum(pieces))
    bench = Bench(display, "jetty/1", Terms(error_rate=0, even=True, suspects=BREAKS))
    assert len(bench.table) == nodes + 1
    for number, row in enumerate(bench.table.rows):
        finding = Finding(bench)
        while finding.look:
            finding.answer(int(bench.chooser.predicted(finding.look, bench.table.columns)[number]))
        assert finding.possibilities()[0].row == row
        assert len(finding.steps) <= least_looks(nodes, COLOURS) + 1


@pytest.mark.parametrize(("eyes", "colours"), [("six", 6), ("three", 3), ("lit", 2)])
def test_every_break_of_a_string_is_found_by_a_robot_within_the_bound(eyes: str, colours: int):
    """Through packets and the yard, for each k of 50 nodes; without colours a look says lit or not."""
    display = one_string(50)
    terms = Terms(eyes=EYES[eyes], error_rate=0, even=True, suspects=BREAKS)
    bench = Bench(display, "jetty/1", terms)
    for row in bench.table.rows:
        finding = search(Lawn(display, bench, faults_of(bench, row)))
        assert finding.possibilities()[0].row == row
        assert len(finding.steps) <= least_looks(50, colours) + 1


def test_a_binary_answer_that_is_wrong_once_in_twenty_carries_the_capacity_of_its_channel():
    """Shannon 1948, binary symmetric channel: 1 - H(0.05) = 0.7136 bits; six answers: 2.1825 bits."""
    import numpy as np

    for answers, capacity in ((2, 0.7136), (6, 2.1825)):
        predicted = np.arange(answers, dtype=np.uint8)
        even = np.full(answers, 1 / answers)
        assert information(predicted, even, 0.05, answers) == pytest.approx(capacity, abs=1e-4)
        assert information(predicted, even, 0.0, answers) == pytest.approx(np.log2(answers), abs=1e-9)


PELC = {50: 9, 100: 11, 128: 11, 170: 11, 340: 13, 680: 14, 1000: 14, 51: 10, 171: 12}
"""Questions for one lie among yes/no answers; Pelc 1987, J. Comb. Theory A 44 (from memory, computed)."""


def pelc(objects: int) -> int:
    """Return the smallest q with n (q + 1) <= 2^q, for odd n n (q + 1) + (q - 1) <= 2^q."""
    looks = 1
    while objects * (looks + 1) + (objects % 2) * (looks - 1) > 2**looks:
        looks += 1
    return looks


def test_the_published_values_are_those_of_the_formula():
    """A slip in the table would make the comparison below worthless."""
    assert {objects: pelc(objects) for objects in PELC} == PELC


@pytest.mark.long
@pytest.mark.parametrize("nodes", [49, 99])
def test_with_one_lie_it_takes_few_looks_more_than_the_best_strategy_there_can_be(nodes: int):
    """Lit or not, one wrong answer at any moment of any search, for every break.

    Counted until only one hypothesis fits with at most one lie. Pelc's value is the best possible worst
    case, of questions about any subset; ours are limited to what a string can show.
    """
    display = one_string(nodes)
    terms = Terms(eyes=EYES["lit"], error_rate=0.02, even=True, suspects=BREAKS)
    bench = Bench(display, "jetty/1", terms)
    worst = max(
        _looks_with_a_lie(bench, truth, lie)
        for truth in range(0, len(bench.table), 3)
        for lie in (None, 0, 1, 3, 5, 7)
    )
    print(f"\n{nodes + 1} breaks, one lie: at most {worst} looks; the least possible: {pelc(nodes + 1)}")  # noqa: T201
    assert pelc(nodes + 1) - 1 <= worst <= pelc(nodes + 1) + 3


def _looks_with_a_lie(bench: Bench, truth: int, lie: int | None) -> int:
    """Return after how many looks only the truth fits with at most one lie."""
    import numpy as np

    finding, lies = Finding(bench), np.zeros(len(bench.table), np.int32)
    while finding.look and np.count_nonzero(lies <= 1) > 1:
        predicted = bench.chooser.predicted(finding.look, bench.table.columns)
        given = int(predicted[truth])
        if len(finding.steps) == lie:
            others = [each.answer for each in finding.choices if each.answer not in (given, 0, 9)]
            given = int(others[-1])
        lies += predicted != given
        finding.answer(given)
    assert lies[truth] <= 1
    return len(finding.steps)
