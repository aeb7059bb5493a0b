"""Choosing a look costs so much and no more, counted in steps and in nodes looked up.

The clock is for the bench: 200 ms at 170 nodes and 1 s at 1,000 are promised (our own, no standard).
"""

import random
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from types import FrameType

import pytest

from streamer.find.finding import Bench, Finding
from tests.find.conftest import one_string

CALLS = frozenset({"call", "c_call"})
LOOKED_UP = {"Sight._with_data": "places", "_summed": "flags"}
"""Where nodes are looked up, and what tells how many."""
STEPS_MOST = 16_000
"""Calls of Python and of NumPy in the dearest choice there is, whatever the string's length."""
LOOK_UPS_MOST = 220
"""Nodes looked up for each hypothesis there: so many questions, each with a few places."""


@dataclass
class Counted:
    """What a piece of work took."""

    steps: int = 0
    nodes: int = 0
    """Nodes whose colours were looked up, all hypotheses together."""

    def during(self, work: Callable[[], object]) -> "Counted":
        """Count, while this is done."""
        sys.setprofile(self._see)
        try:
            work()
        finally:
            sys.setprofile(None)
        return self

    def _see(self, frame: FrameType, event: str, _argument: object) -> None:
        self.steps += event in CALLS
        if event == "call" and (looked_up := LOOKED_UP.get(frame.f_code.co_qualname)):
            self.nodes += frame.f_locals[looked_up].size


def costs(bench: Bench, chance: random.Random) -> Iterator[Counted]:
    """Yield what each choice takes in a search that is answered at random, which leaves most possible."""
    bench.known.clear()
    finding = Finding(bench)
    bench.known.clear()
    yield Counted().during(lambda: Finding(bench))
    while finding.look:
        given = chance.choice(finding.choices).answer
        yield Counted().during(partial(finding.answer, given))


@pytest.mark.slow
@pytest.mark.parametrize(("nodes", "others"), [(50, {}), (170, {"reversed": True}), (1000, {})])
def test_the_dearest_choice_is_bounded_in_steps_and_in_nodes_looked_up(nodes: int, others: dict[str, bool]):
    """No step is taken for each hypothesis, and none is looked at more often than the questions need."""
    bench, chance = Bench(one_string(nodes, **others), "jetty/1"), random.Random(nodes)  # noqa: S311
    # A search before loads what is loaded when it is needed.
    list(costs(Bench(one_string(12), "jetty/1"), chance))
    found = list(costs(bench, chance))
    assert max(each.steps for each in found) <= STEPS_MOST
    assert max(each.nodes for each in found) <= LOOK_UPS_MOST * len(bench.table)
