"""Turns what a person asked of a pattern, text or numbers, into checked values of the right type."""

import math
import re
from collections.abc import Mapping
from difflib import get_close_matches

from patterns.plain import Param, Pattern, PatternError, Value

_TRUTH = {
    "yes": True,
    "true": True,
    "on": True,
    "1": True,
    "no": False,
    "false": False,
    "off": False,
    "0": False,
}
_SHOWN_CHARACTERS = 40
"""No more than this of a wrong value is repeated to the person."""


def settle(pattern: Pattern, given: Mapping[str, Value]) -> dict[str, Value]:
    """Return a value for every parameter of the pattern: the given one, checked, or the default.

    Text is read as the parameter's kind. Raises PatternError with a sentence for each problem.
    """
    known = {param.name: param for param in pattern.params}
    problems = [_unknown(pattern, name) for name in given if name not in known]
    settled: dict[str, Value] = {}
    for name, param in known.items():
        try:
            settled[name] = _checked(param, given[name]) if name in given else param.default
        except ValueError as wrong:
            problems.append(
                f"{name}: {_shown(given[name])} {wrong}; for example {name}={_written(param.default)}"
            )
    if problems:
        raise PatternError(problems)
    return settled


def range_of(param: Param) -> str:
    """Return what a parameter may be, in words: "from 1 to 100 nodes", "yes or no", "one of red, green"."""
    if isinstance(param.default, bool):
        return "yes or no"
    if isinstance(param.default, str):
        return f"one of {', '.join(param.choices)}" if param.choices else f"text {param.unit}".rstrip()
    kind = "a whole number" if isinstance(param.default, int) else "a number"
    low = "" if param.low is None else f" from {param.low:g}"
    high = "" if param.high is None else f" to {param.high:g}"
    return f"{kind}{low}{high} {param.unit}".rstrip()


def _checked(param: Param, value: Value) -> Value:
    if isinstance(param.default, bool):
        return _bool(param, value)
    if isinstance(param.default, str):
        return _choice(param, value)
    return _number(param, value)


def _bool(param: Param, value: Value) -> bool:
    text = str(value).strip().lower()
    if text not in _TRUTH:
        raise _not_in_range(param)
    return _TRUTH[text]


def _choice(param: Param, value: Value) -> str:
    text = str(value).strip()
    if not param.choices:
        if param.form and not re.fullmatch(param.form, text):
            raise _not_in_range(param)
        return text
    if text.lower() not in param.choices:
        raise _not_in_range(param)
    return text.lower()


def _number(param: Param, value: Value) -> int | float:
    if isinstance(value, bool):
        raise _not_in_range(param)
    try:
        number = float(value)
    except (ValueError, OverflowError):
        raise _not_in_range(param) from None
    whole = isinstance(param.default, int)
    too_low = param.low is not None and number < param.low
    too_high = param.high is not None and number > param.high
    if not math.isfinite(number) or too_low or too_high or (whole and not number.is_integer()):
        raise _not_in_range(param)
    return int(number) if whole else number


def _not_in_range(param: Param) -> ValueError:
    return ValueError(f"is not {range_of(param)}")


def _unknown(pattern: Pattern, name: str) -> str:
    names = [param.name for param in pattern.params]
    near = get_close_matches(name, names) or names
    offer = f"it has {', '.join(near)}" if near else "it has none"
    return f"{pattern.name} has no parameter {_shown(name)}; {offer}"


def _shown(value: Value) -> str:
    text = str(value)
    return repr(text if len(text) <= _SHOWN_CHARACTERS else f"{text[:_SHOWN_CHARACTERS]}...")


def _written(value: Value) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
