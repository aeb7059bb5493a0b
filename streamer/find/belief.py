"""Exact Bayes: how likely each hypothesis is after the answers so far, some of which may be wrong."""

from functools import cache

import numpy as np

from patterns.plain import Bytes
from streamer.find.answers import ANSWERS
from streamer.find.shares import Shares, added_up

LEAST_ERROR = 1e-12
"""Answers that cannot be wrong at all could leave nothing possible; then the least wrong remain."""


def likelihood(predicted: Bytes, answer: int, error_rate: float, choices: int) -> Shares:
    """Return how likely an answer is under each hypothesis, (H,), given what each predicts.

    The other answers share `error_rate` evenly. That one cannot tell says nothing, and has no likelihood.
    """
    error = max(error_rate, LEAST_ERROR)
    return np.where(predicted == answer, 1 - error, error / (choices - 1))


def posterior(prior: Shares, likelihoods: list[Shares]) -> Shares:
    """Return the share of each hypothesis, (H,), summing to 1."""
    with np.errstate(divide="ignore"):
        logs = np.log(prior) + sum((np.log(each) for each in likelihoods), np.zeros(len(prior)))
    shares = np.exp(logs - logs.max())
    return np.asarray(shares / shares.sum())


def information(predicted: Bytes, shares: Shares, error_rate: float, choices: int) -> float:
    """Return how many bits an answer is expected to tell: Shannon 1948, mutual information."""
    error = max(error_rate, LEAST_ERROR)
    mass = added_up(predicted, shares, ANSWERS)
    wrong = error / (choices - 1)
    # Where more answers are predicted than can be given, the impossible ones count as given.
    chance = mass * (1 - error - wrong) + wrong * (mass > 0)
    rest = max(choices - int(np.count_nonzero(mass)), 0)
    heard = _entropy(np.append(chance[mass > 0], np.full(rest, wrong)))
    return heard - _unsure(error, choices)


@cache
def _unsure(error: float, choices: int) -> float:
    """Return the bits that wrong answers take of each."""
    return _entropy(np.append(np.full(choices - 1, error / (choices - 1)), 1 - error))


def _entropy(chances: Shares) -> float:
    chances = chances[chances > 0]
    return float(-(chances * np.log2(chances)).sum())
