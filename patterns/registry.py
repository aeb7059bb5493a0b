"""Finds the patterns: every module of this package that holds a `PATTERN`. Adding one is adding one file.

Importing `patterns` alone loads none of them.
"""

import importlib
import pkgutil
from difflib import get_close_matches
from types import ModuleType

import patterns
from patterns.plain import Pattern, PatternError
from patterns.settle import settle

__all__ = ["all_patterns", "get", "settle"]

HELPERS = frozenset({"colours", "plain", "registry", "settle", "tally"})
"""The modules that are no patterns. Any other must hold one: a misspelt PATTERN is told, not passed over."""


def all_patterns(package: ModuleType = patterns) -> tuple[Pattern, ...]:
    """Return every pattern of a package, by name.

    Raises PatternError for a module that holds none, and for two of one name.
    """
    found: dict[str, Pattern] = {}
    for module in pkgutil.iter_modules(package.__path__):
        if module.name not in HELPERS:
            pattern = _pattern_of(f"{package.__name__}.{module.name}")
            if pattern.name in found:
                raise PatternError(
                    [f"two patterns are called {pattern.name}: rename the one in {module.name}.py"]
                )
            found[pattern.name] = pattern
    return tuple(found[name] for name in sorted(found))


def get(name: str, package: ModuleType = patterns) -> Pattern:
    """Return a pattern by its name. Raises PatternError, with the nearest names, where there is none."""
    by_name = {pattern.name: pattern for pattern in all_patterns(package)}
    if name not in by_name:
        near = get_close_matches(name, by_name) or sorted(by_name)
        raise PatternError([f"no pattern is called {name[:40]!r}; there is {', '.join(near)}"])
    return by_name[name]


def _pattern_of(module_name: str) -> Pattern:
    pattern = getattr(importlib.import_module(module_name), "PATTERN", None)
    if not isinstance(pattern, Pattern):
        raise PatternError([f"{module_name} holds no pattern: write PATTERN = Pattern(...) in it"])
    return pattern
