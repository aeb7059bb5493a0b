"""Numbers on the command line, and in words which ones may be given."""

import math
from typing import Any

import click

from streamer.display.places import shown


class Finite(click.FloatRange):
    """A range of numbers without "nan" and "inf", which Python takes for numbers too."""

    name = "number"

    def convert(
        self,
        value: Any,  # noqa: ANN401  the parent's signature
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> float:
        """Return the number; what is none in this range is told with the range."""
        try:
            number = float(super().convert(value, param, ctx))
        except click.BadParameter:
            number = math.nan
        if not math.isfinite(number):
            what = f"{shown(str(value))} is not a number {self._describe_range()}"
            self.fail(f"{what.rstrip()}.", param, ctx)
        return number

    def _describe_range(self) -> str:
        return range_words(self)


class Whole(click.IntRange):
    """A range of whole numbers."""

    name = "number"

    def convert(
        self,
        value: Any,  # noqa: ANN401  the parent's signature
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> int:
        """Return the number; what is none in this range is told with the range."""
        try:
            return int(super().convert(value, param, ctx))
        except click.BadParameter:
            what = f"{shown(str(value))} is not a whole number {self._describe_range()}"
            self.fail(f"{what.rstrip()}.", param, ctx)

    def _describe_range(self) -> str:
        return range_words(self)


def range_words(of: click.IntRange | click.FloatRange) -> str:
    """Return which numbers are in a range, as help and refusals say it; "" where all are."""
    if of.min is None:
        return "" if of.max is None else f"up to {of.max:g}"
    if of.max is None:
        return f"above {of.min:g}" if of.min_open else f"from {of.min:g} on"
    return f"above {of.min:g}, up to {of.max:g}" if of.min_open else f"from {of.min:g} to {of.max:g}"
