"""Exact Bayes: how likely each hypothesis is after the answers so far, some of which may be wrong."""

import numpy as np

from patterns.plain import Bytes
from streamer.display.slots import Indices
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
    mass = added_up(predicted, shares, ANSWERS)
    return float(informations(mass[None], error_rate, np.array([choices]))[0])


def informations(mass: Shares, error_rate: float, choices: Indices) -> Shares:
    """Return the same for many looks at once, (N,): what share of all predicts which answer, (N, ANSWERS)."""
    error = max(error_rate, LEAST_ERROR)
    wrong = error / (choices - 1)
    # Where more answers are predicted than can be given, the impossible ones count as given.
    is_given = mass > 0
    chance = (mass * (1 - error - wrong[:, None]) + wrong[:, None]) * is_given
    rest = np.maximum(choices - is_given.sum(axis=1), 0)
    heard = _entropies(chance) - rest * wrong * np.log2(wrong)
    unsure = -(choices - 1) * wrong * np.log2(wrong) - (1 - error) * np.log2(1 - error)
    return np.asarray(heard - unsure)


def _entropies(chances: Shares) -> Shares:
    """Return the bits of each row, (N,)."""
    logs = np.log2(chances, where=chances > 0, out=np.zeros_like(chances))
    return np.asarray(-(chances * logs).sum(axis=1))
