"""Refresh limits, against datasheets' figures, ANSI E1.11 and a units library."""

import pytest

from streamer.display.chips import CHIPS, assumed_chip
from streamer.plan.timing import dmx_time, line_time, shown_rate
from tests.plan.lake import controller, flood, port
from tests.units import pint_units

COUNTS = (50, 100, 128, 170, 340, 680, 1000)
ASSUMED_RGB = (555.6, 303.0, 241.5, 185.2, 95.2, 48.3, 33.0)
ASSUMED_RGBW = (434.8, 232.6, 184.5, 140.8, 71.9, 36.4, 24.8)
"""Frames a second at 800 kHz and 300 us of reset: 1 / (n x bits x 1.25 us + 300 us)."""


@pytest.mark.parametrize(
    ("order", "rates"), [("RGB", ASSUMED_RGB), ("GRBW", ASSUMED_RGBW)], ids=["RGB", "RGBW"]
)
def test_without_a_chip_the_assumed_timing_gives_the_table(order: str, rates: tuple[float, ...]):
    """800 kHz and 300 us: common practice, no source; the formula is the datasheets'."""
    found = [line_time(port(1, 1, nodes=count, colour_order=order)) for count in COUNTS]
    assert [round(each.limit_hz, 1) for each in found] == list(rates)
    assert {each.chip for each in found} == {None}


@pytest.mark.parametrize("name", CHIPS)
def test_the_formula_is_what_a_units_library_makes_of_the_datasheet(name: str):
    """Bits times the bit period plus the reset, in pint's units."""
    chip, units = CHIPS[name], pint_units()
    order = "RGB" if chip.colours == 3 else "RGBW"
    bits = (120 * chip.bits + chip.head_bits) * units.dimensionless
    frame = bits * units.Quantity(chip.bit_ns, "ns") + units.Quantity(chip.reset_us, "us")
    found = line_time(port(1, 1, nodes=120, colour_order=order, chip=name))
    assert found.limit_hz == pytest.approx((1 / frame).to("Hz").magnitude)
    assert found.frame_us == pytest.approx(frame.to("us").magnitude)


DATASHEETS = {
    "WS2811": (24, 1.25, 280),
    "WS2811 at 400 kHz": (24, 2.5, 50),
    "WS2812B": (24, 1.25, 280),
    "WS2813": (24, 1.25, 280),
    "WS2815": (24, 1.25, 280),
    "SK6812": (24, 1.2, 80),
    "SK6812 RGBW": (32, 1.2, 80),
    "UCS1903": (24, 2.5, 24),
    "UCS1903B": (24, 1.25, 24),
    "TM1814": (32, 1.25, 200),
    "UCS8903": (48, 1.25, 48),
    "UCS8904B": (64, 1.25, 48),
}
"""Each chip's datasheet, timing tables: bits a node, bit period and least reset in us. The reset of the two
UCS1903 is from memory."""


def test_the_chips_are_those_of_their_datasheets():
    """Copied once more by hand, in the datasheets' own units."""
    assert {
        name: (chip.bits, chip.bit_ns / 1000, chip.reset_us) for name, chip in CHIPS.items()
    } == DATASHEETS


def test_the_maker_of_the_first_chip_reckons_alike():
    """WS2811 datasheet, features: at 400 kHz at least 512 nodes at 30 Hz; the formula gives 32.50."""
    assert round(line_time(port(1, 1, nodes=512, chip="WS2811 at 400 kHz")).limit_hz, 2) == 32.5


def test_a_chip_with_current_commands_has_them_counted():
    """TM1814 datasheet: 64 bits before the nodes, 200 us of pause: 128 nodes at 185.2 frames a second."""
    assert round(line_time(port(1, 1, nodes=128, colour_order="WRGB", chip="TM1814")).limit_hz, 1) == 185.2


@pytest.mark.parametrize(("colours", "nodes"), [(3, 823), (4, 617)])
def test_the_longest_string_at_40_frames_a_second(colours: int, nodes: int):
    """Nodes = floor((1/f - reset) / (bits x T)): 823 RGB and 617 RGBW nodes at 800 kHz and 300 us."""
    order = "RGB" if colours == 3 else "RGBW"
    assert line_time(port(1, 1, nodes=nodes, colour_order=order)).limit_hz >= 40
    assert line_time(port(1, 1, nodes=nodes + 1, colour_order=order)).limit_hz < 40
    assert assumed_chip(colours).bits == 8 * colours


def test_skipped_nodes_take_their_time_on_the_line():
    """They are on it like the others."""
    assert line_time(port(1, 1, nodes=90, skip=10)) == line_time(port(1, 1, nodes=100))


@pytest.mark.parametrize(
    ("slots", "rate_hz"),
    [
        (1, 830.6),
        (24, 830.6),
        (48, 442.5),
        (96, 228.7),
        (128, 173.0),
        (170, 131.1),
        (256, 87.6),
        (512, 44.10),
    ],
)
def test_dmx_is_as_quick_as_its_standard_lets_a_transmitter_be(slots: int, rate_hz: float):
    """ANSI E1.11: break 92 us, mark 12 us, 44 us a slot with the START code, at least 1,204 us in all."""
    assert round(dmx_time(slots).limit_hz, 1) == pytest.approx(rate_hz)


def test_a_full_dmx_packet_takes_22_676_us():
    """ANSI E1.11: 92 + 12 + 44 x 513."""
    assert dmx_time(512).packet_us == 22_676


def test_the_slowest_line_holds_the_display_back():
    """1,000 nodes: 33.0 frames a second."""
    rate = shown_rate((controller(port(1, 1), port(2, 9, nodes=1000)),), 40)
    assert (round(rate.limit_hz, 1), rate.held_by, rate.slowest_port) == (33.0, "jetty/2", "jetty/2")
    assert "1000 nodes" in rate.reason


def test_without_a_slow_line_the_standards_do():
    """ANSI E1.31-2018 clause 6.6.1: not above the rate of E1.11, 44.1 for 512 slots."""
    rate = shown_rate((controller(port(1, 1), fixtures=(flood(9),)),), 40)
    assert (round(rate.limit_hz, 1), rate.held_by, rate.slowest_port) == (44.1, "the standards", "jetty/1")


def test_a_display_of_fixtures_has_no_slowest_line():
    """There is none to name."""
    rate = shown_rate((controller(fixtures=(flood(9),)),), 40)
    assert (rate.slowest_port, rate.slowest_port_hz) == (None, None)
