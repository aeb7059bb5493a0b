"""What k failures in T hours prove, against published tables."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.report.bounds import bound, hours_needed

CHI_SQUARED_95 = {2: 5.991, 4: 9.488, 6: 12.592, 8: 15.507, 10: 18.307, 12: 21.026, 20: 31.410, 30: 43.773}
"""Upper critical values at 0.95 by degrees of freedom: NIST/SEMATECH e-Handbook, 1.3.6.7.4; from memory."""
TEST_LENGTH = {
    0.80: (1.61, 2.99, 4.28, 5.52, 6.72, 7.90),
    0.90: (2.30, 3.89, 5.32, 6.68, 7.99, 9.28),
    0.95: (3.00, 4.74, 6.30, 7.75, 9.15, 10.51),
}
"""Hours of test for each hour between failures to be proven, by failures allowed: NIST/SEMATECH e-Handbook,
8.3.1.1, the test length guide table; from memory."""
GARWOOD_ONE_SIDED_975 = {0: 3.689, 1: 5.572, 2: 7.225, 5: 11.668, 10: 18.390}
"""Exact upper limits of a Poisson count at 97.5 %: the upper ends of Garwood's two-sided 95 % limits
(Biometrika 28, 1936); from memory."""


@pytest.mark.parametrize(("freedom", "value"), CHI_SQUARED_95.items())
def test_the_bound_is_the_table_of_chi_squared(freedom: int, value: float):
    """The rate is chi-squared with 2k + 2 degrees of freedom over 2T."""
    failures = freedom // 2 - 1
    assert bound(failures, 10).per_hour == pytest.approx(value / 20, rel=1e-4)


@pytest.mark.parametrize("confidence", TEST_LENGTH)
def test_the_bound_is_the_table_of_test_lengths(confidence: float):
    """Within its two decimals, which it does not round everywhere the same way."""
    for failures, factor in enumerate(TEST_LENGTH[confidence]):
        assert bound(failures, 1, confidence).per_hour == pytest.approx(factor, abs=0.007)


@pytest.mark.parametrize(("failures", "limit"), GARWOOD_ONE_SIDED_975.items())
def test_the_bound_is_the_exact_limit_of_a_count(failures: int, limit: float):
    """In one hour."""
    assert bound(failures, 1, 0.975).per_hour == pytest.approx(limit, abs=6e-4)


def test_the_rule_of_three_is_just_above_the_exact_bound_and_only_for_none():
    """3 stands for -ln(0.05), which is 2.9957: Hanley and Lippman-Hand, JAMA 249, 1983."""
    eight = bound(0, 8)
    assert eight.rule_of_three_per_hour == 0.375
    assert eight.per_hour == pytest.approx(-math.log(0.05) / 8)
    assert bound(1, 8).rule_of_three_per_hour is None


@given(st.integers(0, 30), st.floats(0.1, 1_000))
def test_at_the_bound_so_few_failures_are_as_unlikely_as_was_said(failures: int, hours: float):
    """The Poisson sum, term by term: it is the definition of the exact bound."""
    expected = bound(failures, hours).per_hour * hours
    terms = (math.exp(k * math.log(expected) - expected - math.lgamma(k + 1)) for k in range(failures + 1))
    assert sum(terms) == pytest.approx(0.05, rel=1e-6)


def test_as_long_again_fails_with_the_confidence_itself():
    """No failure in T hours lets a rate stand at which T more hours fail with 95 %: a night proves little."""
    assert bound(0, 8).chance_of_failure(8) == pytest.approx(0.95)
    assert hours_needed(150) == pytest.approx(449.4, abs=0.1)


def test_nothing_watched_proves_nothing():
    """An infinite rate, no rule of three, and no division by zero."""
    none = bound(0, 0)
    assert (none.per_hour, none.hours_between, none.rule_of_three_per_hour) == (math.inf, 0, None)
    assert none.chance_of_failure(5) == 1
