"""Whether a string looks exactly as said: sums over wirings come to the same as looking node by node."""

import random

import numpy as np
import pytest

from streamer.find.answers import NO, YES
from streamer.find.choice import asks_of
from streamer.find.finding import Bench
from streamer.find.questions import Asks
from tests.find.conftest import one_string
from tests.find.test_agreement import drawn_rows


@pytest.mark.slow
@pytest.mark.parametrize("is_reversed", [False, True])
@pytest.mark.parametrize("order", ["RGB", "GRBW"])
def test_a_match_is_every_node_alike(order: str, *, is_reversed: bool):
    """For what each drawn hypothesis would show, and for the same with one node changed, over all of them."""
    bench = Bench(one_string(14, reversed=is_reversed, colour_order=order), "jetty/1")
    columns, chance = bench.table.columns, random.Random(order)  # noqa: S311
    pictures = list(bench.chooser.pictures(columns, bench.table.prior))
    for row in drawn_rows(bench, chance):
        sight = bench.chooser.sight(chance.choice(pictures), columns)
        looks = np.array([sight.looks(each) for each in range(len(columns))])
        changed = looks[row].copy()
        changed[chance.randrange(len(changed))] = chance.choice(looks[row])
        for expected in (looks[row], changed):
            alike = (looks == expected).all(axis=1)
            assert (sight.matches(expected) == np.where(alike, YES, NO)).all(), bench.table.rows[row]


def test_what_is_foreseen_is_what_is_predicted_anew():
    """Of the pictures that are always there: remembered for all hypotheses, and for some of them."""
    bench = Bench(one_string(14), "jetty/1")
    columns, kept = bench.table.columns, np.arange(0, len(bench.table), 7)
    for foreseen in bench.chooser._of(kept):
        assert foreseen.asks == tuple(asks_of(foreseen.picture))
        assert Asks.MATCH not in foreseen.asks
        sight = bench.chooser.sight(foreseen.picture, columns.only(kept))
        for asks, answers in zip(foreseen.asks, foreseen.answers, strict=True):
            assert (answers == sight.answers(asks)).all()
