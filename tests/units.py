"""All of pint's units, the check of our own few; reading their definitions takes a third of a second."""

from fractions import Fraction
from functools import cache

from pint import UnitRegistry


@cache
def pint_units() -> "UnitRegistry[float]":
    """Return the units, in floating point."""
    return UnitRegistry()


@cache
def exact_units() -> "UnitRegistry[Fraction]":
    """Return the units, in fractions."""
    return UnitRegistry(non_int_type=Fraction)
