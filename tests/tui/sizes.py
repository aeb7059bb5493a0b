"""The sizes of terminals that the screens are held to: in every run a usual one and a phone's."""

import pytest

USUAL = (80, 24)
PHONE = (40, 24)


def large(columns: int, rows: int, *more: object):
    """Return a size at which little is cut: with it a rule is tried where all of the checks run."""
    return pytest.param((columns, rows), *more, marks=pytest.mark.slow)


SIZES = (USUAL, PHONE, large(200, 60))
