"""Reads lengths and wires as a person writes them: "75 mm", "8 ft", "18 AWG", "0.75 mm2".

Nothing from a file is ever evaluated: a number and one known unit, no more. The units are pint's, which is
loaded with the first length.
"""

import re
from collections.abc import Callable
from decimal import Decimal
from functools import cache
from typing import TYPE_CHECKING

from pydantic import ValidationError

from streamer.display.electrics import Wire

if TYPE_CHECKING:
    from pint import UnitRegistry

TEXT_LIMIT = 40
"""Characters of a length or a wire; longer ones are not read."""

_DEFINITIONS = (
    "centi- = 1e-2 = c-",
    "milli- = 1e-3 = m-",
    "meter = [length] = m = metre",
    "inch = 0.0254 * meter = in",
    "foot = 0.3048 * meter = ft",
    "yard = 0.9144 * meter = yd",
)
"""Exact: SI prefixes, and the international yard of 1959. All of pint's other units would take 0.2 s."""

_LENGTH = re.compile(r"([0-9]{1,6}(?:\.[0-9]{1,6})?)\s*(mm|cm|m|in|ft|yd)", re.ASCII)
_AWG = re.compile(r"(?:([0-9]{1,2})\s*AWG|AWG\s*([0-9]{1,2}))", re.ASCII | re.IGNORECASE)
_MM2 = re.compile(r"([0-9]{1,2}(?:\.[0-9]{1,4})?)\s*mm(?:2|²|\^2)", re.ASCII)


def length_mm(value: object) -> float:
    """Read "75 mm" or "3 in" as millimetres. Raises ValueError."""
    match = _LENGTH.fullmatch(_text(value))
    if match is None:
        raise ValueError("not a length with a unit")
    length = _registry().Quantity(Decimal(match[1]), match[2])
    return float(length.to("millimeter").magnitude)


class Written(float):
    """Millimetres, and the text that they were written as."""

    text: str = ""


def written_mm(value: object, check: Callable[[float], float]) -> Written:
    """Read a length as `length_mm` does, check it, and keep how it was written. Raises ValueError."""
    written = Written(check(length_mm(value)))
    written.text = _text(value)
    return written


def wire_of(value: object) -> Wire:
    """Read "18 AWG" or "0.75 mm2" as one conductor. Raises ValueError."""
    text = _text(value)
    try:
        if match := _AWG.fullmatch(text):
            return Wire(awg=int(match[1] or match[2]))
        if match := _MM2.fullmatch(text):
            return Wire(mm2=float(match[1]))
    except ValidationError as error:
        # Told of the file's key, not of what it would have become.
        raise ValueError("no such wire") from error
    raise ValueError("neither a gauge nor a cross-section")


def _text(value: object) -> str:
    if not isinstance(value, str) or len(value) > TEXT_LIMIT:
        raise ValueError("not a short text")
    return value.strip()


@cache
def _registry() -> "UnitRegistry[Decimal]":
    from pint import UnitRegistry

    registry: UnitRegistry[Decimal] = UnitRegistry(None, non_int_type=Decimal)
    for definition in _DEFINITIONS:
        registry.define(definition)
    return registry
