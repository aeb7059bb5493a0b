"""A robot that looks only at the yard's lights answers the questions, and the right fault is named."""

import math

import pytest

from streamer.find.answers import EYES
from streamer.find.kinds import Kind
from streamer.find.terms import CERTAINTY, Terms
from tests.find.draws import met
from tests.find.trial import trial

COUNTED = (Kind.FEWER, Kind.MORE)


@pytest.mark.slow
def test_the_right_fault_is_named_at_its_place():
    """Of 20 draws (display, fault) with truthful answers, none is taken for another."""
    found = trial(20, seed=5)
    assert not found.failures


@pytest.mark.long
def test_of_two_thousand_draws_with_truthful_answers_99_in_100_are_named():
    """Position exact; looks for breaks and counts within 1.6 times the information bound (Shannon 1948).

    The bound is log2(H) / log2(c): H hypotheses of every kind, c the six colours of a look's blocks.
    """
    found = trial(2000, seed=11)
    print(f"\n{found.table()}\n{found.calibration()}")  # noqa: T201  the table is what is asked for
    assert found.share_right >= 0.99, found.failures[:10]
    for kind in (Kind.BREAK, *COUNTED):
        tally = found.kinds[kind]
        assert tally.looks <= 1.6 * tally.bound, kind


@pytest.mark.long
def test_of_two_thousand_draws_with_wrong_answers_95_in_100_are_named():
    """One answer in twenty is wrong, any other being as likely; rare kinds are drawn as often as common ones.

    Of the verdicts that are called certain, no more are wrong than the certainty asked for allows.
    """
    found = trial(2000, seed=12, wrong=0.05)
    print(f"\n{found.table()}\n{found.calibration()}")  # noqa: T201
    assert found.share_right >= 0.95, found.failures[:10]
    certain = [is_right for sure, is_right in found.verdicts if sure >= CERTAINTY]
    assert certain.count(False) <= (1 - CERTAINTY) * len(certain)


@pytest.mark.long
def test_a_verdict_is_as_often_right_as_it_is_sure():
    """Of faults as the trade meets them, one answer in twenty being wrong: calibrated in every verdict.

    Wrong ones at most as many as the doubts add up to, and three standard deviations.
    """
    found = trial(1500, seed=14, wrong=0.05, drawn=met)
    print(f"\n{found.calibration()}")  # noqa: T201
    doubts = [1 - sure for sure, _ in found.verdicts]
    spread = math.sqrt(sum(doubt * (1 - doubt) for doubt in doubts))
    wrong = sum(not is_right for _, is_right in found.verdicts)
    assert wrong <= sum(doubts) + 3 * spread, found.failures


@pytest.mark.long
def test_eyes_that_take_red_for_green_find_the_same_faults():
    """Of 600 draws: a node stuck at red and one stuck at green are one possibility to them."""
    found = trial(600, seed=13, terms=Terms(eyes=EYES["three"]))
    print(f"\n{found.table()}")  # noqa: T201
    assert found.share_right >= 0.99, found.failures[:10]
