"""Numbers on the command line, and in words which ones may be given."""

import math
from collections.abc import Callable
from typing import Any

import click

from streamer.display.places import shown


class Finite(click.FloatRange):
    """A range of numbers without "nan" and "inf", which Python takes for numbers too."""

    name = "number"
    what = "number"
    read: Callable[[Any], float] = float

    def convert(
        self,
        value: Any,  # noqa: ANN401  the parent's signature
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> float:
        """Return the number; what is none in this range is told with the range."""
        try:
            number = self.read(value)
            is_one = math.isfinite(super().convert(number, param, ctx))
        except (ValueError, OverflowError, click.BadParameter):
            is_one = False
        if not is_one:
            what = f"{shown(str(value))} is not a {self.what} {self._describe_range()}"
            self.fail(f"{what.rstrip()}.", param, ctx)
        return number

    def _describe_range(self) -> str:
        return range_words(self)


class Whole(Finite):
    """A range of whole numbers."""

    what = "whole number"
    read = int


def range_words(of: click.FloatRange) -> str:
    """Return which numbers are in a range, as help and refusals say it; "" where all are."""
    if of.min is None:
        return "" if of.max is None else f"up to {of.max:g}"
    if of.max is None:
        return f"above {of.min:g}" if of.min_open else f"from {of.min:g} on"
    return f"above {of.min:g}, up to {of.max:g}" if of.min_open else f"from {of.min:g} to {of.max:g}"
