"""`ropewalk doctor` as scripts and terminals have it: bad files, exit codes, JSON, any width."""

import json
import re
from pathlib import Path

import pytest

from streamer.cli.doctor_text import check_lines, end_lines
from streamer.doctor.checks import Check, Link, State
from tests.cli.conftest import run

LOOPBACK = """
name = "Lake"
[[controllers]]
name = "jetty"
protocol = "e131"
address = "127.0.0.1"
[[controllers.ports]]
number = 1
universe = 1
nodes = 2
"""
BAD = {
    "it is not there": (None, "there is no such file", "ropewalk new"),
    "it is a folder": ("", "this is a folder", "Give the name of a display file"),
    "it is no text": (b"\xff\xfe\x00", "not UTF-8", "UTF-8"),
    "it is no TOML": (b"name = ", "not TOML", ""),
    "it has two faults": (
        LOOPBACK.replace('"Lake"', "7").replace("nodes = 2", "nodes = 0").encode(),
        "display.toml",
        "1 more problem",
    ),
}
LONG = Check(
    Link.WAY,
    "jetty (192.168.7.50)",
    State.BROKEN,
    "this machine's addresses and routes",
    "this machine has no way to that network: shed0 has 10.61.0.1/24",
    "Give this machine an address beside the controller's, such as 192.168.7.1/24",
)


@pytest.mark.parametrize("kind", BAD)
def test_a_bad_file_is_the_first_broken_link_and_nothing_else_is_looked_at(kind: str, tmp_path: Path):
    """With what is wrong, where, and what to do; exit code 1."""
    content, saw, instead = BAD[kind]
    file = tmp_path / "display.toml"
    if content == "":
        file.mkdir()
    elif isinstance(content, bytes):
        file.write_bytes(content)
    done = run("doctor", file, "--json")
    assert (done.code, done.json["ok"], len(done.json["checks"])) == (1, False, 1)
    first = done.json["first_broken"]
    assert (first["link"], first["state"]) == ("file", "broken")
    assert saw in first["saw"]
    assert instead in first["instead"]
    assert not re.search(r"\.\.|\. \.", run("doctor", file).out)


def test_a_wrong_command_line_is_told_with_exit_code_2():
    """By click."""
    assert run("doctor").code == 2
    assert run("doctor", "display.toml", "--seconds", "nan").code == 2


@pytest.mark.rig
def test_a_display_on_loopback_is_looked_at_to_the_end(tmp_path: Path):
    """Into a pipe: plain text, and at the end the counts."""
    file = tmp_path / "display.toml"
    file.write_text(LOOPBACK)
    done = run("doctor", file, "--seconds", "0.2")
    assert "way to jetty (127.0.0.1)" in done.out
    assert re.search(r"^(Nothing|1) broken, ", done.out, re.MULTILINE)
    told = run("doctor", file, "--seconds", "0.2", "--json")
    assert told.json["ok"] == (told.code == 0)
    assert {tuple(each) for each in told.json["checks"]} == {
        ("link", "subject", "state", "looked_at", "saw", "instead")
    }


@pytest.mark.parametrize("width", [30, 40, 80, 200])
@pytest.mark.parametrize("state", State)
def test_no_line_is_wider_than_the_terminal_and_no_word_is_lost(width: int, state: State):
    """At any width, whatever was found."""
    check = Check(LONG.link, LONG.subject, state, LONG.looked_at, LONG.saw, LONG.instead)
    lines = [*check_lines(check, width), *end_lines([check], "Stopped before the end.", width)]
    assert all(len(line) <= width for line in lines)
    text = " ".join(" ".join(lines).split())
    assert "way to jetty (192.168.7.50)" in text
    assert "such as 192.168.7.1/24." in text
    assert json.dumps(check.as_dict())
