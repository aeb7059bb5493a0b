"""The electrical keys of a display file: what they become, and what is said when they are wrong."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.display.electrics import Drive, Wire
from streamer.display.file import parse
from streamer.display.starter import starter_text
from streamer.display.units import length_mm, wire_of
from streamer.errors import PlanError, Problem
from tests.units import pint_units

GOOD = """\
name = "Boathouse"
[[supplies]]
name = "shed"
volts = 12
watts = 60
fuse = 5
[[supplies]]
name = "roof"
volts = 12.1
amps = 4
[[node_kinds]]
name = "bullets"
drive = "resistive"
volts = 12
volts_min = 10
full_ma = [15, 16, 17]
idle_ma = 2.5
[[controllers]]
name = "jetty"
protocol = "e131"
address = "multicast"
[[controllers.ports]]
number = 1
universe = 1
nodes = 50
node_kind = "bullets"
supply = "shed"
fuse = 3
lead = { length = "10 ft", wire = "18 AWG" }
wire = "0.5 mm2"
injections = [
  { after = 25, supply = "roof", fuse = 2, positive_cut = true, lead = { length = "4 m", wire = "AWG 16" } },
]
"""


def problems(text: str) -> tuple[Problem, ...]:
    """Return what is wrong with a file."""
    with pytest.raises(PlanError) as caught:
        parse(text, "display.toml")
    return caught.value.problems


def test_the_keys_arrive_in_the_models_units():
    """Watts become amperes, lengths metres, wires what they are."""
    display = parse(GOOD, "display.toml")
    shed, roof = display.supplies
    assert (shed.amps, shed.fuse_a, roof.amps, roof.fuse_a) == (5, 5, 4, None)
    (kind,) = display.node_kinds
    assert (kind.drive, kind.full_ma, kind.idle_ma) == (Drive.RESISTIVE, (15, 16, 17), 2.5)
    (port,) = display.ports
    assert (port.supply, port.fuse_a, port.node_kind, port.wire) == ("shed", 3, "bullets", Wire(mm2=0.5))
    assert port.lead is not None
    assert port.lead.length_m == pytest.approx(3.048)
    assert port.lead.wire == Wire(awg=18)
    (second,) = port.injections
    assert (second.after, second.supply, second.fuse_a, second.is_positive_cut) == (25, "roof", 2, True)
    assert (second.lead.length_m, second.lead.wire.text) == (4, "16 AWG")


SOME = "\nvolts = 12\namps = 1\n"
KIND = "\nvolts = 12\nvolts_min = 9\nfull_ma = [1, 1, 1]\nidle_ma = 1\n"
SLIPS = [
    ("volts = 12\nwatts", "volts = -12\nwatts", 4, "volts is -12", "volts = 12"),
    ("volts = 12\nwatts", "volts = 230\nwatts", 4, "up to 60", "volts = 12"),
    ("watts = 60\n", "", 2, "neither 'amps' nor 'watts'", "watts = 350"),
    ("watts = 60", "watts = 60\namps = 5", 5, "both 'amps' and 'watts'", "Take one"),
    ("watts = 60", "watts = nan", 5, "watts is nan", "watts = 350"),
    ("fuse = 5", "fuse = 0", 6, "fuse is 0", "fuse = 5"),
    ("[[node_kinds]]", f'[[supplies]]\nname = "Shed"{SOME}[[node_kinds]]', 12, "two supplies", "its own"),
    (
        "[[controllers]]",
        f'[[node_kinds]]\nname = "12 V resistive"{KIND}[[controllers]]',
        19,
        "built-in",
        "its own",
    ),
    (
        "[[controllers]]",
        f'[[node_kinds]]\nname = "Bullets"{KIND}[[controllers]]',
        19,
        "two node kinds",
        "its own",
    ),
    ('"resistive"', '"magic"', 13, "drive is 'magic'", 'drive = "constant current"'),
    ("volts_min = 10", "volts_min = 13", 15, "above volts", "volts_min ="),
    ("[15, 16, 17]", "[15, 16]", 16, "three or four numbers", "full_ma = ["),
    ("[15, 16, 17]", "[15, -1, 17]", 16, "full_ma (entry 2) is -1", "full_ma = ["),
    ("idle_ma = 2.5", "idle_ma = -1", 17, "idle_ma is -1", "idle_ma = 1"),
    ("idle_ma = 2.5\n", "", 11, "the key 'idle_ma' is missing", "idle_ma = 1"),
    ("nodes = 50", 'nodes = 50\ncolour_order = "RGBW"', 27, "3 numbers in full_ma", "for white"),
    ('node_kind = "bullets"', 'node_kind = "bullet"', 26, "no node kind 'bullet'", "Did you mean 'bullets'?"),
    ('node_kind = "bullets"', 'node_kind = "zzz"', 26, "no node kind 'zzz'", "12 V regulated"),
    ('supply = "shed"', 'supply = "shd"', 27, "no supply 'shd'", "Did you mean 'shed'?"),
    ('supply = "roof"', 'supply = "zz"', 32, "no supply 'zz'", "[[supplies]]"),
    ('supply = "shed"', 'supplies = "shed"', 27, "unknown key 'supplies'", "Did you mean 'supply'?"),
    ("fuse = 3", 'fuse = "3 A"', 28, "a number of amperes", "fuse = 5"),
    ('"10 ft"', '"10 feet"', 29, "length is '10 feet'", 'length = "3 m"'),
    ('"10 ft"', '"10 kg"', 29, "with its unit (mm, cm, m, in, ft, yd)", 'length = "3 m"'),
    ('"10 ft"', '"-3 m"', 29, "length is '-3 m'", 'length = "3 m"'),
    ('"10 ft"', '"0 m"', 29, "length is '0 m'", 'length = "3 m"'),
    ('"10 ft"', '"2000 m"', 29, "up to 1000 m", 'length = "3 m"'),
    ('"10 ft"', "3", 29, "length is 3", 'length = "3 m"'),
    ('"10 ft"', '"9**9**9 m"', 29, "length is '9**9**9 m'", 'length = "3 m"'),
    ('length = "10 ft", ', "", 29, "the key 'length' is missing", 'length = "3 m"'),
    ('{ length = "10 ft", wire = "18 AWG" }', '"3 m"', 29, "a table with length and wire", "lead = {"),
    ('wire = "0.5 mm2"', 'wire = "0.5"', 30, "a gauge from", 'wire = "18 AWG"'),
    ('wire = "0.5 mm2"', 'wire = "44 AWG"', 30, "a gauge from", 'wire = "18 AWG"'),
    ('wire = "0.5 mm2"', 'wire = "0.01 mm2"', 30, "a cross-section from", 'wire = "18 AWG"'),
    ("after = 25", "after = 51", 32, "the string has 50 nodes", "after = 1 to 50"),
    ("after = 25", "after = 50", 32, "nothing follows", "positive_cut"),
    ("after = 25", "after = 0", 32, "after is 0", "after = 50"),
    ("after = 25", 'after = "25"', 32, "after is '25'", "after = 50"),
    ("after = 25, ", "", 32, "the key 'after' is missing", "after = 50"),
    (', lead = { length = "4 m", wire = "AWG 16" }', "", 32, "the key 'lead' is missing", "lead = {"),
    ("positive_cut = true", "positive_cut = 1", 32, "true or false", "positive_cut = true"),
    ("injections = [\n", "injections = [ 3,\n", 31, "injections", "injections = ["),
]


@pytest.mark.parametrize(("old", "new", "line", "what", "instead"), SLIPS)
def test_a_slip_names_its_line_and_what_to_write(old: str, new: str, line: int, what: str, instead: str):
    """One problem for one slip, at its place."""
    assert GOOD.count(old) == 1
    (only,) = problems(GOOD.replace(old, new))
    assert only.line == line
    assert what in only.what
    assert instead in only.instead


def test_a_supply_that_is_wrong_is_told_once():
    """Not again at every port that names it."""
    assert len(problems(GOOD.replace("volts = 12\nwatts", "volts = 0\nwatts"))) == 1


def test_nodes_on_the_wrong_voltage_are_told_at_each_supply():
    """5 V nodes on 12 V are destroyed, whichever feed does it."""
    found = problems(GOOD.replace('node_kind = "bullets"', 'node_kind = "5 V constant current"'))
    assert [problem.line for problem in found] == [27, 32]
    assert all("nodes are for 5 V" in problem.what for problem in found)


def test_a_hundred_injections_are_the_most():
    """A bound, so that a hostile file cannot make the circuit of a string too large."""
    one = '{ after = 25, lead = { length = "4 m", wire = "AWG 16" } }'
    text = GOOD[: GOOD.index("injections")] + f"injections = [ {', '.join([one] * 101)} ]\n"
    (only,) = problems(text)
    assert "up to 100" in only.what


@pytest.mark.parametrize(
    "text", ["75 mm", "7.5cm", "0.075 m", "3 in", "0.25 ft", "40 yd", "123456.123456 mm"]
)
def test_lengths_are_what_the_units_librarys_own_definitions_make_of_them(text: str):
    """We define six units of our own for speed; pint's full registry is the check."""
    whole: float = pint_units().Quantity(text).to("mm").magnitude
    assert length_mm(text) == pytest.approx(whole, rel=1e-12)


def test_lengths_are_exact():
    """3 in is 76.2 mm, not 76.19999999999999."""
    assert (length_mm("3 in"), length_mm("8 ft"), length_mm("0.1 m")) == (76.2, 2438.4, 100.0)


@given(st.one_of(st.text(max_size=60), st.integers(), st.none(), st.binary(), st.lists(st.text())))
def test_whatever_is_no_length_or_wire_is_a_value_error(value: object):
    """Nothing else comes out, and nothing is evaluated."""
    for read in (length_mm, wire_of):
        try:
            read(value)
        except ValueError:
            continue
        assert isinstance(value, str)


@pytest.mark.parametrize("text", ["18 AWG", "18awg", "AWG 18", " 18 AWG "])
def test_a_gauge_is_read_as_it_is_printed_on_the_wire(text: str):
    """The trade writes it either way round."""
    assert wire_of(text) == Wire(awg=18)


@pytest.mark.parametrize("text", ["0.75 mm2", "0.75mm²", "0.75 mm^2"])
def test_a_cross_section_is_read_with_any_two(text: str):
    """Not every keyboard has the raised one."""
    assert wire_of(text) == Wire(mm2=0.75)


def test_a_lead_is_told_in_the_unit_that_it_was_written_in():
    """20 ft are 6.096 m (the international foot of 1959): reckoned with as that, printed as written."""
    (port, *_) = parse(starter_text(), "display.toml").ports
    assert port.lead is not None
    leads = (port.lead, *(injection.lead for injection in port.injections))
    assert [lead.text for lead in leads] == ["3 m, 18 AWG", "20 ft, 0.75 mm2"]
    assert leads[1].length_m == pytest.approx(6.096)
