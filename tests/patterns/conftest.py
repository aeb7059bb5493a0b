"""Small displays for the patterns to be shown on, made by hand."""

from collections.abc import Callable, Sequence

import numpy as np
import pytest

from patterns.plain import Frame, Layout, Moment, Value
from patterns.registry import get, settle

LANTERN = ("dimmer", "red", "green", "blue", "strobe", "pan", "unused")
MakeLayout = Callable[..., Layout]
Show = Callable[..., Frame]


def _layout(
    *lengths: int,
    white: Sequence[bool] = (),
    universes: Sequence[int] | None = None,
    stand_ins: Sequence[bool] | None = None,
    fixtures: Sequence[Sequence[str]] = (),
) -> Layout:
    """Return strings of the given lengths: one universe each, nodes 0.1 m apart along x, rows down y."""
    strings = np.repeat(np.arange(len(lengths), dtype=np.int32), lengths)
    place = np.array([place for length in lengths for place in range(length)], np.int32)
    of_string = np.array(universes if universes is not None else range(1, len(lengths) + 1), np.int32)
    return Layout(
        string_names=tuple(f"jetty/{number}" for number in range(1, len(lengths) + 1)),
        string_starts=np.array([sum(lengths[:index]) for index in range(len(lengths))], np.int32),
        string_lengths=np.array(lengths, np.int32),
        string_of_node=strings,
        place=place,
        universe_of_node=of_string[strings],
        has_white=np.array(white or [False] * len(lengths), np.bool_)[strings],
        positions=np.stack([place * 0.1, strings * -0.3, place * 0.0], axis=1).astype(np.float32),
        is_neighbour=np.array(stand_ins or [False] * len(lengths), np.bool_),
        fixture_names=tuple(f"lantern {number}" for number in range(1, len(fixtures) + 1)),
        channel_roles=tuple(role for roles in fixtures for role in roles),
        fixture_of_channel=np.array([f for f, roles in enumerate(fixtures) for _ in roles], np.int32),
    )


def _show(name: str, layout: Layout, step: int = 0, **given: Value) -> Frame:
    pattern = get(name)
    return pattern.render(layout, Moment(step, 0.0), settle(pattern, given))


def _tell(name: str, layout: Layout, step: int = 0, **given: Value) -> str:
    pattern = get(name)
    return pattern.describe(layout, Moment(step, 0.0), settle(pattern, given))


@pytest.fixture(scope="session")
def make_layout() -> MakeLayout:
    """Return the maker of layouts: `make_layout(50, 100)` has two strings."""
    return _layout


@pytest.fixture(scope="session")
def show() -> Show:
    """Return what renders a pattern by its name: `show("walk", layout, 3, window=2)`."""
    return _show


@pytest.fixture(scope="session")
def tell() -> Callable[..., str]:
    """Return what describes a pattern by its name: `tell("walk", layout, 3)`."""
    return _tell
