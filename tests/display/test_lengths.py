"""Segments written as lengths: how many nodes they are, and what is refused."""

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pint import UnitRegistry

from streamer.display.chips import CHIPS
from streamer.display.file import parse
from streamer.display.model import Port
from streamer.display.segments import nodes_in
from streamer.errors import PlanError, Problem
from tests.units import exact_units

FILE = """name = "Boathouse"
[[controllers]]
name = "jetty"
protocol = "e131"
address = "multicast"
  [[controllers.ports]]
  number = 1
  universe = 1
"""


def port_with(keys: str) -> Port:
    """Return the port of a display whose only port has these keys."""
    return parse(FILE + keys, "lake.toml").ports[0]


def problem_with(keys: str) -> Problem:
    """Return the one problem of a display whose only port has these keys."""
    with pytest.raises(PlanError) as caught:
        port_with(keys)
    (problem,) = caught.value.problems
    return problem


@pytest.mark.parametrize(
    ("keys", "nodes"),
    [
        ('spacing = "3 in"\nsegments = ["8 ft", "4 ft"]', [32, 16]),
        ('segments = [{ length = "2.4 m", spacing = "75 mm" }]', [32]),
        ('spacing = "75 mm"\nsegments = [{ length = "8 ft", spacing = "3 in" }, "1 m", 7]', [32, 13, 7]),
        ('spacing = "2 in"\nsegments = ["10 ft"]', [60]),
        ('spacing = "4 in"\nsegments = ["10 ft"]', [30]),
        ('spacing = "6 in"\nsegments = ["10 ft"]', [20]),
        ('spacing = "50 mm"\nsegments = ["1 m"]', [20]),
        ("segments = [36, { nodes = 2 }]", [36, 2]),
    ],
)
def test_lengths_and_counts_become_nodes(keys: str, nodes: list[int]):
    """8 ft at 3 in are 32; 2 in centres give 60 in 10 ft, 4 in 30, 6 in 20 (common practice, no source)."""
    assert [segment.nodes for segment in port_with(keys).segments] == nodes


def test_what_a_length_was_is_kept_with_its_spacing():
    """So that a plan can say what is left over, and a drawing is to scale."""
    first, second = port_with('spacing = "3 in"\nsegments = ["8 ft", 4]').segments
    assert first.length_mm == pytest.approx(2438.4)
    assert second.length_mm is None
    assert [first.spacing_mm, second.spacing_mm] == pytest.approx([76.2, 76.2])
    (plain,) = port_with('spacing = "3 in"\nnodes = 9').segments
    assert plain.spacing_mm == pytest.approx(76.2)


@pytest.fixture(name="units", scope="module")
def _units() -> "UnitRegistry[Fraction]":
    return exact_units()


WRITTEN = st.tuples(
    st.decimals("0.1", "900", places=2).map(str), st.sampled_from(["mm", "cm", "m", "in", "ft"])
)


@given(WRITTEN, st.tuples(st.decimals("1", "40", places=1).map(str), st.sampled_from(["mm", "cm", "in"])))
def test_the_count_is_the_whole_spacings_in_the_length(
    units: "UnitRegistry[Fraction]", length: tuple[str, str], spacing: tuple[str, str]
):
    """Against exact fractions of pint's: rounded down, and the same whatever units the two are in."""
    exact = units.Quantity(Fraction(length[0]), length[1]) / units.Quantity(Fraction(spacing[0]), spacing[1])
    spacings = exact.to_base_units().magnitude
    millimetres = [
        float(units.Quantity(Fraction(number), unit).to("mm").magnitude) for number, unit in (length, spacing)
    ]
    assert nodes_in(*millimetres) == math.floor(spacings + Fraction(1, 1_000_000))


@pytest.mark.parametrize(
    ("keys", "what", "instead"),
    [
        ('segments = ["8 ft"]', "how far its nodes are apart is not said", 'spacing = "3 in"'),
        ("segments = [{ }]", "neither 'nodes' nor 'length'", 'length = "8 ft"'),
        ('spacing = "3 in"\nsegments = [{ nodes = 3, length = "8 ft" }]', "both 'nodes'", "Take one"),
        (
            'spacing = "3 in"\nsegments = ["2 in"]',
            "0 nodes: 50.8 mm at a spacing of 76.2 mm",
            "at least one spacing",
        ),
        ('spacing = "1 mm"\nsegments = ["20 m"]', "20000 nodes", "at most 10000"),
        ('spacing = "3 in"\nsegments = ["8 furlongs"]', "length is '8 furlongs'", 'length = "8 ft"'),
        ('spacing = "3 in"\nsegments = ["8"]', "with its unit", 'length = "8 ft"'),
        ('spacing = "3 in"\nsegments = ["1001 m"]', "up to 1 km", 'length = "8 ft"'),
        ('spacing = "3 in"\nsegments = ["-8 ft"]', "length is '-8 ft'", 'length = "8 ft"'),
        ('spacing = "3 in"\nsegments = [8.5]', "segments (entry 1) is 8.5", "segments = ["),
        ('spacing = "3 in"\nsegments = "8 ft"', "segments is '8 ft'", "segments = ["),
        ("segments = [0]", "nodes is 0", "nodes = 36"),
        ('segments = [3]\nspacing = "3"', "spacing is '3'", 'spacing = "75 mm"'),
        ('nodes = 3\nchip = "unheard of"', "one of: WS2811, ", 'chip = "WS2811"'),
    ],
)
def test_what_makes_no_nodes_is_told_at_its_line(keys: str, what: str, instead: str):
    """With what is wrong and a concrete way out."""
    told = problem_with(keys)
    assert told.line == len((FILE + keys).splitlines())
    assert what in told.what
    assert instead in told.instead


@pytest.mark.parametrize("name", CHIPS)
def test_a_chip_is_named_as_on_the_reel(name: str):
    """Every name in the table is accepted in a file."""
    assert port_with(f'chip = "{name}"\nnodes = 3').chip == name
