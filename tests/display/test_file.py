"""The display file: what it may say, and that everything wrong is told with its line and what to write."""

import os
import socket
import stat
from pathlib import Path

import pytest

from streamer.display.file import FILE_LIMIT_OCTETS, load, parse
from streamer.display.model import Addressing, Protocol, Role
from streamer.display.units import length_mm
from streamer.errors import PlanError, Problem
from tests.units import pint_units

GOOD = """\
name = "Boathouse"
[[controllers]]
name = "jetty"
protocol = "e131"
address = "multicast"
  [[controllers.ports]]
  number = 1
  universe = 1
  nodes = 72
  [[controllers.ports]]
  number = 2
  universe = 2
  segments = [ { nodes = 36, spacing = "75 mm", start = [0, 1], end = [2.6, 1] }, { nodes = 36 } ]
  [[controllers.fixtures]]
  name = "Flood, boat door"
  universe = 9
  channels = ["dimmer", "red"]
[[controllers]]
name = "roof"
protocol = "artnet"
address = "192.168.7.21"
  [[controllers.ports]]
  number = 1
  port_address = "0:1:3"
  nodes = 72
"""


def problems(text: str) -> tuple[Problem, ...]:
    """Return what is wrong with a file's text."""
    with pytest.raises(PlanError) as caught:
        parse(text, "display.toml")
    return caught.value.problems


def problem(old: str, new: str) -> Problem:
    """Return the one thing that is wrong with the good file after one change."""
    assert GOOD.count(old) == 1, old
    (only,) = problems(GOOD.replace(old, new))
    return only


def test_a_file_becomes_the_display_it_describes():
    """Names, numbers, lengths and positions arrive in the model's units."""
    display = parse(GOOD, "display.toml")
    jetty, roof = display.controllers
    assert (display.name, jetty.name, roof.protocol) == ("Boathouse", "jetty", Protocol.ARTNET)
    assert [port.name for port in display.ports] == ["jetty/1", "jetty/2", "roof/1"]
    assert [port.universe for port in display.ports] == [1, 2, 19]
    first, second = jetty.ports[1].segments
    assert (first.nodes, first.spacing_mm, first.start, first.end) == (36, 75, (0, 1, 0), (2.6, 1, 0))
    assert (second.spacing_mm, second.start, second.end) == (None, None, None)
    assert jetty.fixtures[0].channels == (Role.DIMMER, Role.RED)
    assert jetty.addressing is Addressing.ALIGNED


@pytest.mark.parametrize("text", ["75 mm", "7.5cm", "0.075 m", "3 in", "0.25 ft"])
def test_spacing_is_what_a_units_library_makes_of_it(text: str):
    """Checked against pint, which takes the inch and the foot from the international yard of 1959."""
    assert length_mm(text) == pytest.approx(pint_units().Quantity(text).to("mm").magnitude, rel=1e-9)


# Each row: what stands in the good file, what stands there instead, the line, part of what is said to be
# wrong, and part of what is said to be right.
SLIPS = [
    ('name = "Boathouse"', "name = 3", 1, "name is 3", 'name = "Boathouse"'),
    ('name = "Boathouse"', 'name = ""', 1, "name is ''", "name ="),
    ('name = "Boathouse"', 'name = "a\\u001b[2J"', 1, r"'a\x1b[2J'", "name ="),
    ('name = "Boathouse"', 'name = " a"', 1, "outer spaces", "name ="),
    ('name = "Boathouse"', 'name = "Boathouse"\nflashes_per_s = 4', 2, "is 4", "flashes_per_s = 1"),
    ('name = "Boathouse"', 'name = "Boathouse"\nflashes_per_s = 0', 2, "WCAG 2.3.1", "flashes_per_s = 1"),
    ('name = "Boathouse"', 'name = "Boathouse"\nflashes_per_s = 2.5', 2, "is 2.5", "flashes_per_s = 1"),
    ('name = "jetty"', 'name = "jet/ty"', 3, "without a slash", 'name = "jetty"'),
    ('name = "jetty"', 'name = "Roof"', 19, "two controllers have the name 'roof'", 'name = "roof 2"'),
    ('"e131"', '"dmx"', 4, "protocol is 'dmx'", 'protocol = "e131"'),
    ('"multicast"', '"lights.local"', 5, "host names are not looked up", 'address = "192.168.7.20"'),
    ('"multicast"', '"192.168.07.1"', 5, "not an IPv4 address", "controller's own page"),
    ('"multicast"', '"239.255.0.1"', 5, "multicast group", 'address = "multicast"'),
    ('"multicast"', '"0.0.0.0"', 5, "no controller can be", "192.168.7.20"),
    ('"multicast"', '"250.0.0.1"', 5, "no controller can be", "192.168.7.20"),
    ('"192.168.7.21"', '"multicast"', 21, "Art-Net is not sent to multicast", "broadcast address"),
    ('"192.168.7.21"', '"239.1.1.1"', 21, "multicast group", "192.168.7.20"),
    ('"multicast"', '"fe80::20"', 5, "not said on which", 'address = "fe80::20%eth0"'),
    ('"192.168.7.21"', '"fd00:7::20"', 21, "Art-Net is sent over IPv4 only", 'address = "192.168.7.20"'),
    ('"multicast"', '"multicast"\npriority = 201', 6, "from 0 to 200", "priority = 100"),
    ('"multicast"', '"multicast"\npriorty = 100', 6, "unknown key 'priorty'", "Did you mean 'priority'?"),
    ('"multicast"', '"multicast"\nzzz = 100', 6, "unknown key 'zzz'", "the keys here are name, protocol"),
    ('"multicast"', '"multicast"\n"z\\u001b" = 1', 6, r"unknown key 'z\x1b'", "Take it out"),
    ('"multicast"', '"multicast"\npreview = 1', 6, "must be true or false", "preview = false"),
    ('"multicast"', '"multicast"\nsync_address = 64000', 6, "from 0 to 63999", "sync_address = 7999"),
    ('"multicast"', '"multicast"\nstart_code = 256', 6, "from 0 to 255", "start_code = 0"),
    ('"multicast"', '"multicast"\nslots = 513', 6, "from 1 to 512", "slots = 512"),
    ('"multicast"', '"multicast"\nslots = 30', 6, "reaches slot 216", "slots = 216"),
    ('"multicast"', '"multicast"\naddressing = "split"', 6, "'split'", 'addressing = "aligned"'),
    ('"multicast"', '"multicast"\nphysical = 1', 6, "'physical' is not for E1.31", "Take 'physical' out"),
    ('"multicast"', '"multicast"\nsequence = false', 6, "'sequence' is not for E1.31", "Take"),
    ('"192.168.7.21"', '"192.168.7.21"\nslots = 301', 22, "an even number of slots", "slots = 302"),
    ('"192.168.7.21"', '"192.168.7.21"\npriority = 99', 22, "'priority' is not for Art-Net", "Take"),
    ('"192.168.7.21"', '"192.168.7.21"\nsync_address = 1', 22, "'sync_address' is not for Art-Net", "Take"),
    ('"192.168.7.21"', '"192.168.7.21"\npreview = true', 22, "'preview' is not for Art-Net", "Take"),
    ('"192.168.7.21"', '"192.168.7.21"\nstart_code = 1', 22, "'start_code' is not for Art-Net", "Take"),
    ("number = 2", "number = 0", 11, "from 1 to 10000", "number = 1"),
    ("number = 2", "", 10, "the key 'number' is missing", "number = 1"),
    ("number = 2", "number = 1", 11, "(the other is on line 7)", "number = 2"),
    ("universe = 2", "univers = 2", 12, "unknown key 'univers'", "Did you mean 'universe'?"),
    ("universe = 2", "universe = true", 12, "universe is true", "universe = 1"),
    ("universe = 2", "universe = 2.0", 12, "universe is 2.0", "universe = 1"),
    ("universe = 2", "universe = 64000", 12, "from 1 to 63999", "universe = 1"),
    ("universe = 2", "universe = 0", 12, "from 1 to 63999", "universe = 1"),
    ("universe = 2", "port_address = 4", 12, "speaks E1.31", "universe = 4 or universe = 5"),
    ("universe = 2", "", 10, "the key 'universe' is missing", "universe = 1"),
    ("universe = 2", "universe = 2\nslot = 511", 13, "no whole RGB node fits", "universe = 3 with slot = 1"),
    ("universe = 2", "universe = 63999\nslot = 510", 12, "the last is universe 63999", "universe = 63998"),
    ("universe = 2", "universe = 2\nskip = -1", 13, "from 0 to 100", "skip = 1"),
    ("universe = 2", 'universe = 2\ncolour_order = "grb"', 13, "'grb'", 'colour_order = "GRB"'),
    ("universe = 2", 'universe = 2\ncolour_order = "RRB"', 13, "no order of RGB", 'colour_order = "GRB"'),
    ("universe = 2", 'universe = 2\ncolour_order = ""', 13, "no order of RGB", 'colour_order = "GRB"'),
    ("universe = 2", 'universe = 2\ncolor_order = "RGB"', 13, "color_order", "Did you mean 'colour_order'?"),
    ("universe = 2", "universe = 2\nnodes = 72", 13, "both 'nodes' and 'segments'", "Take 'nodes' out"),
    ('"75 mm"', '"75"', 13, "spacing is '75'", 'spacing = "75 mm"'),
    ('"75 mm"', "75", 13, "spacing is 75", 'spacing = "75 mm"'),
    ('"75 mm"', '"0 mm"', 13, "spacing is '0 mm'", 'spacing = "75 mm"'),
    ('"75 mm"', '"9**9**9 mm"', 13, "with its unit", 'spacing = "75 mm"'),
    (", end = [2.6, 1]", "", 13, "has a 'start' but no 'end'", "start = [0, 1, 0], end"),
    ("start = [0, 1], ", "", 13, "has a 'end' but no 'start'", "or neither"),
    ("[2.6, 1]", "[2.6]", 13, "end is a list of 1", "end = [2.6, 1, 0]"),
    ("[2.6, 1]", "[2.6, nan]", 13, "end (entry 2) is nan", "end = [2.6, 1, 0]"),
    ("{ nodes = 36 }", "{ nodes = 0 }", 13, "from 1 to 10000", "nodes = 36"),
    ("{ nodes = 36 }", "{ }", 13, "neither 'nodes' nor 'length'", "nodes = 36"),
    ("{ nodes = 36 }", "true", 13, "segments (entry 2) is true", "segments = [ {"),
    ('"red"]', '"rde"]', 17, "channels (entry 2) is 'rde'", '["dimmer", "red", "green", "blue"]'),
    ("universe = 9", "universe = 9\nslot = 512", 17, "the fixture ends at slot 513", "slot = 511"),
    ("universe = 9", "universe = 1\nslot = 216", 17, "universe 1, slot 216", "universe = 1, slot = 217"),
    ('"0:1:3"', '"0:16:3"', 24, "127:15:15", 'port_address = "0:1:3"'),
    ('"0:1:3"', "32768", 24, "0 to 32767", "port_address = 19"),
    ('port_address = "0:1:3"', "universe = 4", 24, "speaks Art-Net", "3 (0:0:3) or port_address = 4 (0:0:4)"),
    ('port_address = "0:1:3"', "", 22, "'port_address' is missing", 'port_address = "0:1:3"'),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line", "what", "instead"), SLIPS)
def test_a_slip_is_told_with_its_line_and_what_to_write(
    old: str, new: str, line: int, what: str, instead: str
):
    """One slip makes one problem, at the right line, with a concrete way out."""
    told = problem(old, new)
    assert told.line == line
    assert told.column > 0
    assert told.place.startswith(f"display.toml:{line}: ")
    assert what in told.what
    assert instead in told.instead
    assert str(told).isprintable()


def test_the_place_is_the_key_path_by_names_and_port_numbers():
    """As a person would point at it."""
    told = problem("universe = 2", "universe = 0")
    assert told.place == "display.toml:12: controllers.jetty.ports[2].universe"
    told = problem('"red"]', '"rde"]')
    assert told.place == "display.toml:17: controllers.jetty.fixtures.'Flood, boat door'.channels[entry 2]"


def test_the_column_counts_characters_not_octets():
    """RFC 3629: é and ü are two octets each; the key after them still stands in its own column."""
    text = GOOD.replace("{ nodes = 36 }", '{ "éü" = 1, nodes = 0 }')
    told = {problem.place.rsplit(".", 1)[1]: problem for problem in problems(text)}
    row = text.splitlines()[12]
    assert told["nodes"].column == row.rindex("nodes") + 1


def test_everything_wrong_is_told_at_once_in_the_order_of_the_file():
    """A second controller's slip and an overlap are not hidden by the first slip."""
    text = GOOD.replace("universe = 9", "universe = 1").replace("number = 2", "number = 0")
    text = text.replace('"0:1:3"', '"0:16:3"').replace('name = "Boathouse"', 'nam = "Boathouse"')
    assert [problem.line for problem in problems(text)] == [1, 11, 14, 24, 0]


def test_an_address_is_told_too_where_no_port_is_right():
    """Nor is a display whose ports are all wrong called an empty one."""
    bad = (
        GOOD.replace('"multicast"', '"10.0.0.300"')
        .replace("universe = ", "universe = -")
        .replace("port_address = ", "port_adress = ")
    )
    with pytest.raises(PlanError) as caught:
        parse(bad, "boathouse.toml")
    told = [problem.what for problem in caught.value.problems]
    assert any("'10.0.0.300', which is not an IPv4 address" in what for what in told)
    assert not any("no port and no fixture" in what for what in told)


@pytest.mark.parametrize(
    ("text", "line", "what", "instead"),
    [
        ('name = "Boathouse"\nslot = \n', 2, "not TOML", "double quotes"),
        ("name = Boathouse", 1, "not TOML", 'name = "Boathouse"'),
        ("name = 'a'\nname = 'b'\n", 2, "'name' stands twice", "take out one of the two"),
        ("a = " + "[" * 5000, 1, "not TOML", "double quotes"),
        ("a." * 5000 + "a = 1", 1, "not TOML", "double quotes"),
        ("name = 'a'\ncontrollers = 3", 2, "'controllers' is 3", "[[controllers]]"),
        ("name = 'a'\n[controllers]\nname = 'b'", 2, "'controllers' is a table", "[[controllers]]"),
        ("name = 'a'\ncontrollers = [3]", 2, "'controllers' holds 3", "[[controllers]]"),
        ("name = 'a'", 0, "no port and no fixture", "[[controllers.ports]]"),
        ("name = '\ud800'", 0, "UTF-8 cannot write", "ropewalk new FILE"),
    ],
)
def test_what_is_no_display_file_is_told_so(text: str, line: int, what: str, instead: str):
    """Broken TOML and the wrong kinds of table each have their line and a way out."""
    (told,) = problems(text)
    assert told.line == line
    assert what in told.what
    assert instead in told.instead


def test_a_hostile_heap_of_problems_is_cut_short():
    """5,000 unknown keys: a thousand are told, then how many more there are."""
    told = problems(
        GOOD.replace("[[controllers]]", "".join(f"k{n} = 1\n" for n in range(5000)) + "[[controllers]]", 1)
    )
    assert len(told) == 1001
    assert told[-1].what == "4000 more things are wrong"


def test_a_syntax_error_has_its_column():
    """The value that is missing is missing from column 8."""
    (told,) = problems("name = \n")
    assert (told.line, told.column) == (1, 8)


def refusal(path: Path) -> Problem:
    """Return the one reason why a file is not read."""
    with pytest.raises(PlanError) as caught:
        load(path)
    (only,) = caught.value.problems
    return only


def test_a_file_is_read_with_a_byte_order_mark_or_carriage_returns(tmp_path: Path):
    """Some editors write both."""
    path = tmp_path / "display.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert load(path) == parse(GOOD, "display.toml")


def test_a_missing_file_is_told_with_how_to_make_one(tmp_path: Path):
    """The way out is the command that writes a starter file."""
    told = refusal(tmp_path / "none.toml")
    assert told.what == "there is no such file"
    assert "ropewalk new" in told.instead


def test_a_folder_a_pipe_and_a_socket_are_not_files(tmp_path: Path):
    """A pipe in particular must not make the reader wait."""
    os.mkfifo(tmp_path / "pipe")
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind(str(tmp_path / "s"))
        assert refusal(tmp_path).what == "this is a folder"
        for path in (tmp_path / "pipe", tmp_path / "s"):
            assert refusal(path).what == "this is not a file"


def test_a_file_that_the_system_refuses_is_told_in_words(tmp_path: Path):
    """A name with a zero octet, a name that is too long, and a loop of links."""
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    for path in (Path("a\0b"), tmp_path / ("x" * 300), tmp_path / "loop"):
        assert "cannot be read" in refusal(path).what
        assert str(refusal(path)).isprintable()


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read everything")
def test_a_file_without_read_permission_is_told_so(tmp_path: Path):
    """The way out is its permissions."""
    path = tmp_path / "display.toml"
    path.write_text(GOOD)
    path.chmod(stat.S_IWUSR)
    assert "permissions" in refusal(path).instead


def test_a_file_that_is_not_utf_8_is_told_with_the_line(tmp_path: Path):
    """A Latin-1 ü (0xFC) on line 2."""
    path = tmp_path / "display.toml"
    path.write_bytes(b"name = 'a'\nlabel = '\xfc'\n")
    told = refusal(path)
    assert told.line == 2
    assert "0xFC" in told.what
    assert "UTF-8" in told.instead


def test_a_file_past_the_limit_is_refused_before_it_is_parsed(tmp_path: Path):
    """One octet too many is too many; its text alone is refused the same way."""
    path = tmp_path / "display.toml"
    text = GOOD + "#" * (FILE_LIMIT_OCTETS - len(GOOD))
    path.write_text(text)
    assert load(path) == parse(GOOD, "display.toml")
    path.write_text(text + "#")
    assert "longer than 512 KiB" in refusal(path).what
    assert "longer than 512 KiB" in problems(text + "#")[0].what


def test_the_name_of_the_file_is_shown_as_plain_text():
    """A file name may hold an escape sequence; the message does not."""
    with pytest.raises(PlanError) as caught:
        parse("", "a\x1b[2J.toml")
    assert all("\x1b" not in str(problem) for problem in caught.value.problems)
