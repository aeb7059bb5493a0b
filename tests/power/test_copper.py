"""Resistance of copper against published tables."""

import math

import pytest

from streamer.display.electrics import Wire
from streamer.power.copper import Copper, area_mm2

KM = 1000
# AWG: diameter in mm and mm2 (ASTM B258), ohm/km at 20 degrees (a university physics table of copper wire),
# ohm/km at 75 degrees, solid and stranded (NEC chapter 9 table 8, which begins at 18 AWG).
TABLE = [
    (12, 2.0525, 3.3088, 5.210, 6.34, 6.50),
    (14, 1.6277, 2.0809, 8.284, 10.1, 10.3),
    (16, 1.2908, 1.3087, 13.176, 16.0, 16.4),
    (18, 1.0237, 0.8230, 20.948, 25.5, 26.1),
    (20, 0.8118, 0.5176, 33.301, None, None),
    (22, 0.6438, 0.3255, 52.953, None, None),
]


@pytest.mark.parametrize(("awg", "mm", "mm2", "at_20", "solid_75", "stranded_75"), TABLE)
def test_a_gauge_has_the_resistance_of_the_tables(  # noqa: PLR0913, PLR0917
    awg: int, mm: float, mm2: float, at_20: float, solid_75: float | None, stranded_75: float | None
):
    """Within 0.03 % at 20 degrees; at 75 as closely as the code rounds."""
    wire = Wire(awg=awg)
    assert area_mm2(wire) == pytest.approx(mm2, abs=5e-5)
    assert math.sqrt(4 * area_mm2(wire) / math.pi) == pytest.approx(mm, abs=5e-5)
    assert Copper(is_stranded=False).ohms_per_m(wire) * KM == pytest.approx(at_20, rel=3e-4)
    if solid_75:
        assert Copper(75, is_stranded=False).ohms_per_m(wire) * KM == pytest.approx(solid_75, rel=5e-3)
        assert Copper(75).ohms_per_m(wire) * KM == pytest.approx(stranded_75, rel=5e-3)


@pytest.mark.parametrize(
    ("mm2", "ohms"), [(0.5, 39.0), (0.75, 26.0), (1.0, 19.5), (1.5, 13.3), (2.5, 7.98), (4.0, 4.95)]
)
def test_flexible_metric_wire_has_what_the_standard_allows(mm2: float, ohms: float):
    """IEC 60228 class 5, plain, ohm/km at 20 degrees; 1 mm2 from a maker's table, the rest from memory."""
    assert Copper().ohms_per_m(Wire(mm2=mm2)) * KM == pytest.approx(ohms, rel=0.03)


@pytest.mark.parametrize(("celsius", "ohms"), [(-10, 18.48), (20, 20.948), (50, 23.42)])
def test_cold_copper_conducts_better(celsius: float, ohms: float):
    """18 AWG by IEC 60028's coefficient of 0.00393 a kelvin at 20 degrees, computed by hand."""
    assert Copper(celsius, is_stranded=False).ohms_per_m(Wire(awg=18)) * KM == pytest.approx(ohms, rel=3e-4)
