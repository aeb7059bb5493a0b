"""`ropewalk plan`: text for a person, CSV, JSON and the page, and how each ends."""

import csv
import io
import re
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from streamer.cli.plan_csv import HEADER, csv_text
from streamer.cli.plan_text import plan_text
from streamer.display.electrics import Supply
from streamer.display.file import load
from streamer.display.sample import sample_display
from streamer.plan.asked import Asked, Host
from streamer.plan.electricity import PortCurrent, Power, power_of
from streamer.plan.page import MARK
from streamer.plan.report import DisplayPlan, plan_of
from streamer.power.plan import power_plan
from tests.cli.conftest import run
from tests.plan.lake import controller, display, many, port
from tui.commands import ropewalk

FILE = """name = "Boathouse"
[[controllers]]
name = "jetty"
protocol = "e131"
address = "127.0.0.1"
  [[controllers.ports]]
  number = 1
  label = "=cmd()"
  universe = 1
  spacing = "3 in"
  segments = ["8 ft", "4 ft"]
"""
SAMPLE = Path("streamer/display/sample.toml")
SLOW = FILE.replace('["8 ft", "4 ft"]', "[1000]")


@pytest.fixture(name="lake")
def _lake(tmp_path: Path) -> Path:
    path = tmp_path / "lake.toml"
    path.write_text(FILE)
    return path


@pytest.fixture(name="slow")
def _slow(tmp_path: Path) -> Path:
    path = tmp_path / "slow.toml"
    path.write_text(SLOW)
    return path


def ask(*words: str | Path) -> Result:
    """Run the command in this process; what it cannot explain is raised."""
    result = CliRunner().invoke(ropewalk, ["plan", *map(str, words)])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def test_a_plan_that_works_ends_with_0(lake: Path):
    """As a process of its own: nothing on standard error."""
    done = run("plan", lake)
    assert (done.code, done.err) == (0, "")
    assert "Nothing found that would go wrong" in done.out
    assert "48 nodes RGB" in done.out
    assert "universe 1, slots 1-144; absolute channels 1-144" in done.out


def test_a_plan_that_cannot_work_ends_with_1_and_says_so_first(slow: Path):
    """What was asked for: 40 frames a second of 1,000 nodes on a line."""
    done = ask(slow, "--rate", "40")
    assert done.exit_code == 1
    assert done.stdout.splitlines()[2] == "CANNOT WORK: jetty/1"
    assert "-> Send 33 a second" in done.stdout
    assert ask(slow).exit_code == 0
    assert ask(slow).stdout.splitlines()[2] == "WATCH OUT: jetty/1"


@pytest.mark.parametrize(
    "words",
    [
        ("--channels", "--json"),
        ("--json", "--html", "x.html"),
        ("--rate", "45"),
        ("--rate", "0"),
        ("--nosuch",),
    ],
)
def test_a_wrong_command_line_ends_with_2(lake: Path, words: tuple[str, ...]):
    """And says what is wrong with it."""
    done = ask(lake, *words)
    assert done.exit_code == 2
    assert done.stderr


def test_a_wrong_file_ends_with_1_and_every_problem(tmp_path: Path):
    """A string of 0 nodes, a length without a spacing: each at its line."""
    path = tmp_path / "wrong.toml"
    path.write_text(FILE.replace('["8 ft", "4 ft"]', '["1 in", "8 fathoms"]'))
    done = ask(path)
    assert done.exit_code == 1
    assert f"{path}:11: " in done.stderr
    assert done.stdout == ""


def test_an_interface_that_is_not_there_is_told_in_words(lake: Path):
    """With those that are."""
    done = ask(lake, "--interface", "nosuch0")
    assert done.exit_code == 1
    assert "no such interface" in done.stderr


@cache
def wordy_plans() -> list[DisplayPlan]:
    """Return plans with all that can be said: of the sample, of many ports, of one far too long string."""
    displays = [sample_display(), many(30), display(controller(port(1, 1, nodes=5000), sync_address=9))]
    return [
        plan_of(each, Asked(40), Host(("wlan0",), 20), power_of(each, power_plan(each, 30), "No frame."))
        for each in displays
    ]


@pytest.mark.slow
@pytest.mark.parametrize("width", [30, 40, 60, 80, 100])
def test_no_line_is_longer_than_the_terminal(width: int):
    """On any terminal from 30 columns on; what is wider than 100 is not used."""
    for made in wordy_plans():
        assert max(map(len, plan_text(made, width).splitlines())) <= width


def test_a_number_and_its_unit_stay_on_one_line():
    """At 40 columns too: a lone 100 at the end of a line is misread."""
    for width in (40, 80):
        text = plan_text(plan_of(sample_display(), Asked(40), Host()), width)
        assert "\N{NO-BREAK SPACE}" not in text
        assert not re.search(r"\d\n\s+(Gb/s|Mb/s|kb/s|%|A|nodes)\b", text)
        assert "slots\n" not in text.partition("Universes")[0]


def test_the_text_says_what_the_network_takes_and_which_universes_are_there():
    """Port-Addresses in both forms, groups of both families, what is left and free."""
    text = plan_text(plan_of(sample_display(), Asked(40), Host()), 100)
    for words in (
        "240 packets/s, 1.28 Mb/s",
        "Port-Address 37 (0:2:5): 511 slots used, 1 left; shared by lake/1, lake/2, lake/3",
        "group 239.255.0.11, ff18::8300:b (not used: sent to 127.0.0.1)",
        "free from 427 on",
        "held back by the standards",
        "2 nodes skipped before them",
        "fed at its far end",
        "1 node split",
        "Taken for granted",
    ):
        assert words in text


def test_currents_are_told_where_they_are_known():
    """At full white, and at the level."""
    made = plan_of(
        display(controller(port(1, 1))), Asked(40), Host(), Power({"jetty/1": PortCurrent(5.5, 1.65, 30)})
    )
    assert "5.50 A at full white, 1.65 A at 30 %" in plan_text(made, 80)


def test_the_power_of_the_sample_is_told_port_by_port():
    """Supplies with what is left, lowest voltages and where, fuses; at the level that was asked for."""
    done = run("plan", SAMPLE, "--level", "50")
    assert done.code == 0
    for words in ("A at 50 %", "V at node 82", "fuse 5 A", "gable box", "left at 50 %", "ask with --now"):
        assert words in done.out


def test_a_supply_that_feeds_nothing_is_said_to():
    """Its name is misspelt at the port, or left out there: "0.00 A" would look as if all were well."""
    idle = (Supply(name="roof box", volts=5, amps=20),)
    lake = display(controller(port(1, 1))).model_copy(update={"supplies": idle})
    text = plan_text(plan_of(lake, Asked(40), Host(), power_of(lake, power_plan(lake, 30), "")), 100)
    assert "roof box    5 V, 20 A: no port or injection names it" in text


@pytest.mark.parametrize("level", ["-1", "101", "nan"])
def test_a_level_that_is_none_ends_with_2(lake: Path, level: str):
    """From 0 to 100 percent."""
    assert ask(lake, "--level", level).exit_code == 2


def test_where_to_inject_is_told():
    """80 nodes fed at one end: after which nodes, by which leads, and how it is then."""
    long = display(controller(port(1, 1, nodes=80)))
    power = power_of(long, power_plan(long, 30), "No frame.")
    text = plan_text(plan_of(long, Asked(40), Host(), power), 100)
    assert "more feed" in text
    assert "after node" in text.replace("\n", " ")
    assert "no fuse" in text


def test_where_no_feeds_suffice_none_are_told():
    """300 nodes of 60 mA on 30 m of 20 AWG at 5 V: no place for more feeds, but what else would help."""
    long = display(controller(port(1, 1, nodes=300)))
    power = power_of(long, power_plan(long, 30), "No frame.")
    text = " ".join(plan_text(plan_of(long, Asked(40), Host(), power), 100).split())
    assert "even 6 more feeds from its supply would not do it: take thicker leads" in text
    assert "after node" not in text


def test_universes_that_are_filled_alike_are_told_once():
    """10,000 nodes: 170 whole RGB nodes in 512 slots (ANSI E1.11) are 58 full universes, and one of 140."""
    text = plan_text(plan_of(display(controller(port(1, 1, nodes=10_000))), Asked(40), Host()), 100)
    universes = text.partition("\nUniverses\n")[2].partition("\nTaken for granted")[0]
    assert universes.split("\n") == [
        "  universe 1 to 58: 510 slots used in each, 2 left, free from 511 on; jetty/1",
        "      groups 239.255.0.1 to 239.255.0.58, ff18::8300:1 to ff18::8300:3a",
        "  universe 59: 420 slots used, 92 left, free from 421 on; jetty/1",
        "      group 239.255.0.59, ff18::8300:3b",
        "",
    ]


def test_channels_are_csv_with_a_row_for_each_node(lake: Path):
    """Read back by the standard library's reader."""
    done = ask(lake, "--channels")
    header, *rows = csv.reader(io.StringIO(done.stdout))
    assert done.exit_code == 0
    assert tuple(header) == HEADER
    assert header == [
        *("index", "string", "label", "node", "universe"),
        *("port_address", "slot", "channel", "colour_order"),
    ]
    assert len(rows) == 48
    assert rows[47] == ["48", "jetty/1", "'=cmd()", "48", "1", "", "142", "142", "RGB"]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_cell_is_taken_for_a_formula(start: str):
    """OWASP, CSV injection: a spreadsheet carries out what begins so; an apostrophe makes it text."""
    label = f'{start}HYPERLINK("http://x","y")\n,"z'
    lake = display(controller(port(1, 1, nodes=1, label=label)))
    _, row = csv.reader(io.StringIO(csv_text(lake)))
    assert row[2] == f"'{label}"
    assert len(row) == len(HEADER)


def test_the_json_is_that_of_the_plan(lake: Path):
    """Rounded to what it is worth, otherwise the same."""
    done = run("plan", lake, "--json")
    assert done.code == 0
    assert list(done.json) == list(plan_of(load(lake), Asked(40), Host()).as_dict())
    assert done.json["controllers"][0]["strings"][0]["extent"]["last"]["slot"] == 144


def test_the_page_is_written_whole_and_only_over_a_page(lake: Path, tmp_path: Path):
    """Nothing else of that name is touched, and nothing is left beside it."""
    path = tmp_path / "lid.html"
    assert ask(lake, "--html", path).exit_code == 0
    assert path.read_text("utf-8").startswith(MARK)
    assert ask(lake, "--html", path).exit_code == 0
    before = lake.read_text()
    done = ask(lake, "--html", lake)
    assert done.exit_code == 1
    assert "left as it is" in done.stderr
    assert lake.read_text() == before
    assert {each.name for each in tmp_path.iterdir()} == {"lake.toml", "lid.html"}


def test_a_page_that_cannot_be_written_is_told_in_words(lake: Path, tmp_path: Path):
    """A folder that is not there, and one in place of the page."""
    for path in (tmp_path / "nowhere" / "lid.html", tmp_path):
        done = ask(lake, "--html", path)
        assert done.exit_code == 1
        assert done.stderr


def test_what_would_go_wrong_is_told_beside_the_page(slow: Path, tmp_path: Path):
    """On standard error, with the exit code of the plan."""
    done = ask(slow, "--rate", "40", "--html", tmp_path / "lid.html")
    assert done.exit_code == 1
    assert "jetty/1: at 40 frames a second" in done.stderr


def test_the_way_through_the_air_may_be_said(tmp_path: Path):
    """For a plan that is made elsewhere; --wired says that it is a cable."""
    path = tmp_path / "air.toml"
    path.write_text(FILE.replace('"127.0.0.1"', '"multicast"'))
    assert "wireless link" in ask(path, "--wireless").stdout
    assert "wireless" not in ask(path, "--wired").stdout
    assert "wireless lo" in ask(path, "--wireless", "--interface", "lo").stdout
