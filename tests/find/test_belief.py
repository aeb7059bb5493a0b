"""Bayes and information, against values computed by hand."""

import numpy as np
import pytest

from streamer.find.belief import information, likelihood, posterior
from streamer.find.finding import Bench, Finding
from streamer.find.kinds import Kind
from tests.find.conftest import one_string

THREE = np.array([0.5, 0.3, 0.2])


def test_an_answer_shifts_the_shares_as_bayes_says():
    """Priors 0.5, 0.3, 0.2; the second predicts the answer; e = 0.1 over two other answers (by hand).

    0.5 x 0.05, 0.3 x 0.9, 0.2 x 0.05 = 0.025, 0.27, 0.01; over their sum, 0.305.
    """
    told = likelihood(np.array([0, 1, 2], np.uint8), 1, 0.1, 3)
    assert posterior(THREE, [told]) == pytest.approx([0.025 / 0.305, 0.27 / 0.305, 0.01 / 0.305])


def test_the_order_of_answers_does_not_matter_and_taking_one_back_is_exact():
    """Bayes' rule multiplies."""
    one = likelihood(np.array([0, 1, 1], np.uint8), 1, 0.05, 9)
    other = likelihood(np.array([2, 2, 4], np.uint8), 2, 0.05, 9)
    assert posterior(THREE, [one, other]) == pytest.approx(posterior(THREE, [other, one]))
    assert posterior(THREE, []) == pytest.approx(THREE)


def test_contradicting_answers_leave_the_least_wrong_even_if_none_may_be_wrong():
    """With no wrong answers allowed, three that contradict each other leave something possible."""
    told = [likelihood(np.array([0, 1, 2], np.uint8), answer, 0.0, 3) for answer in (0, 1, 1)]
    shares = posterior(THREE, told)
    assert np.isfinite(shares).all()
    assert shares.argmax() == 1


def test_a_look_that_all_hypotheses_answer_alike_tells_nothing():
    """Zero bits, whatever the error rate."""
    for error in (0.0, 0.05, 0.3):
        assert information(np.array([3, 3, 3], np.uint8), THREE, error, 9) == pytest.approx(0, abs=1e-9)


def test_information_is_what_a_sum_over_all_answers_and_hypotheses_gives():
    """Mutual information by its definition (Shannon 1948), term by term."""
    predicted, error, answers = np.array([0, 1, 1, 4], np.uint8), 0.08, 5
    shares = np.array([0.4, 0.3, 0.2, 0.1])
    chance = np.full((4, answers), error / (answers - 1))
    chance[np.arange(4), predicted] = 1 - error
    heard = shares @ chance
    expected = (shares[:, None] * chance * np.log2(chance / heard)).sum()
    assert information(predicted, shares, error, answers) == pytest.approx(expected)


def test_it_is_sure_only_of_what_is_so_however_common_each_kind_is():
    """The lower of two posteriors: kinds as the trade meets them, and each kind as likely as any other."""
    bench = Bench(one_string(30), "jetty/1")
    table, finding = bench.table, Finding(bench)
    alike = table.views[1]
    kinds = {row.kind for row in table.rows}
    for kind in kinds:
        mine = [share for row, share in zip(table.rows, alike, strict=True) if row.kind is kind]
        assert sum(mine) == pytest.approx(1 / len(kinds))
    healthy = next(number for number, row in enumerate(table.rows) if row.kind is Kind.HEALTHY)
    while finding.look:
        finding.answer(int(bench.chooser.predicted(finding.look, table.columns)[healthy]))
        told = [step.likelihood for step in finding.steps if step.likelihood is not None]
        each_view = [posterior(view, told)[finding.leader] for view in table.views]
        assert finding.certainty == pytest.approx(min(each_view))
    assert finding.leader == healthy
    assert finding.is_certain
    assert min(each_view) < max(each_view)
