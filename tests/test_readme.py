"""The README is true: its commands run as they stand, and its keys and patterns are those there are."""

import fcntl
import inspect
import json
import os
import pty
import re
import select
import shlex
import shutil
import struct
import subprocess
import sys
import tempfile
import termios
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import click
import pytest

from patterns.registry import all_patterns
from streamer.demo.findings import Findings
from streamer.display.file import parse
from streamer.display.starter import starter_text
from streamer.doctor.checks import State
from streamer.plan.asked import Asked, Host
from streamer.plan.electricity import power_of
from streamer.plan.report import plan_of
from streamer.power.plan import power_plan
from streamer.report.table import as_dict
from tests.cli.conftest import run as run_loaded
from tests.report.conftest import stormy_report
from tui.actions import ACTIONS, Action
from tui.commands import ENTRIES, ropewalk

README = (Path(__file__).parents[1] / "README.md").read_text("utf-8")
BIN = Path(sys.executable).parent
PREFIX = ".venv/bin/"
ON_SCREEN = ("ui", "demo")
"""Opened on a terminal of their own, and left with q."""
LIMIT_S = 30
DRAWN = b"Help"
"""A keycap that is always there."""
LEAVES_SCREEN = "\x1b[?1049l"
SHOWS_CURSOR = "\x1b[?25h"
"""DEC private modes 1049 and 25, as xterm documents them: what gives the terminal back."""
ROWS, COLUMNS = 24, 80
COMMON_WORDS = frozenset({"the", "and", "its", "that", "this", "all", "for", "one", "where"})
LEAST_LETTERS = 3


@pytest.fixture(autouse=True)
def folder(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Be somewhere else, where the files that the commands write disturb nobody."""
    place = Path(tempfile.mkdtemp(prefix="rw"))
    monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", str(place / "r"))
    monkeypatch.setenv("ROPEWALK_CONFIG_DIR", str(place / "c"))
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.chdir(place)
    yield place
    shutil.rmtree(place, ignore_errors=True)


def commands() -> list[list[str]]:
    """Return every `ropewalk` command of the code blocks; of a line joined by && the last one."""
    lines = [
        line for block in re.findall(r"```sh\n(.*?)```", README, re.DOTALL) for line in block.splitlines()
    ]
    words = [shlex.split(line.rpartition("&&")[2], comments=True) for line in lines]
    return [[PREFIX + "ropewalk", *each[1:]] for each in words if each and each[0] == PREFIX + "ropewalk"]


def run(words: list[str]) -> None:
    """Run a command of this environment, without a terminal."""
    command = [str(BIN / words[0].removeprefix(PREFIX)), *words[1:]]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=LIMIT_S)
    assert done.returncode == 0, f"{shlex.join(words)}: {done.stdout}{done.stderr}"
    assert "\x1b" not in done.stdout + done.stderr


def run_on_a_terminal(words: list[str]) -> str:
    """Run a command on a terminal of its own, press q when the screen is drawn, and return what was drawn."""
    terminal, inside = pty.openpty()
    fcntl.ioctl(inside, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
    command = [str(BIN / words[0].removeprefix(PREFIX)), *words[1:]]
    process = subprocess.Popen(command, stdin=inside, stdout=inside, stderr=inside, start_new_session=True)
    os.close(inside)
    try:
        drawn = read_terminal(terminal, until=DRAWN)
        os.write(terminal, b"q")
        drawn += read_terminal(terminal)
        assert process.wait(LIMIT_S) == 0, drawn[-2000:]
    finally:
        process.kill()
        os.close(terminal)
    return drawn.decode("utf-8", "replace")


def read_terminal(terminal: int, until: bytes | None = None) -> bytes:
    """Return what is drawn until this is part of it, or until the command has gone."""
    drawn, limit_s = b"", time.monotonic() + LIMIT_S
    while time.monotonic() < limit_s and (until is None or until not in drawn):
        if select.select([terminal], [], [], 0.5)[0]:
            try:
                drawn += os.read(terminal, 65_536)
            except OSError:  # the other end has closed
                break
    return drawn


def test_the_readme_begins_with_the_job_and_then_the_two_commands():
    """One paragraph, then how to see it work, then how to run the tests."""
    _, title, *rest = re.split(r"^# (.*)\n", README, maxsplit=1, flags=re.MULTILINE)
    paragraphs = rest[0].strip().split("\n\n")
    assert title == "Ropewalk"
    assert not paragraphs[0].startswith("`")
    assert paragraphs[1].startswith("```sh\npython3 -m venv")
    assert paragraphs[1].endswith(".venv/bin/ropewalk demo\n```")
    blocks = re.findall(r"```sh\n(.*?)```", README, re.DOTALL)
    assert blocks[1] == ".venv/bin/pytest\n"


def test_every_command_that_the_readme_names_exists_with_its_options():
    """In code blocks and in the text."""
    named = re.findall(r"`ropewalk ([a-z]+)", README)
    assert len(named) > 3
    assert {words[1] for words in commands()} | set(named) <= set(ENTRIES)
    for words in commands():
        command = ropewalk.get_command(click.Context(ropewalk), words[1])
        assert command is not None
        options = {name for param in command.params for name in param.opts}
        assert {word for word in words if re.fullmatch(r"--?[a-z][a-z-]*", word)} <= options


@pytest.mark.slow
def test_the_quick_commands_run_as_they_stand():
    """Those that write, check and list."""
    quick = [
        words
        for words in commands()
        if words[1] in {"new", "check", "plan", "interfaces", "patterns", "runs"}
    ]
    assert [words[1] for words in quick][:2] == ["new", "check"]
    for words in quick[:2]:
        run(words)
    for words in quick[2:]:
        done = run_loaded(*words[1:])
        assert done.code == 0, f"{shlex.join(words)}: {done.out}{done.err}"


@pytest.mark.rig
def test_all_commands_without_a_screen_run_as_they_stand():
    """To the end, in their order; the demo runs unattended for want of a terminal."""
    for words in commands():
        if words[1] != "ui":
            run(words)


@pytest.mark.rig
@pytest.mark.parametrize("name", ON_SCREEN)
def test_the_commands_with_a_screen_open_it_and_q_leaves_it(name: str):
    """On a terminal of 80 by 24."""
    run(next(words for words in commands() if words[1] == "new"))
    words = next(words for words in commands() if words[1] == name)
    drawn = run_on_a_terminal(words)
    assert DRAWN.decode() in drawn
    assert drawn.rfind(LEAVES_SCREEN) > drawn.rfind(DRAWN.decode())
    assert drawn.rfind(SHOWS_CURSOR) > drawn.rfind(DRAWN.decode())


def table(heading: str) -> list[list[str]]:
    """Return the rows of the table whose first column has this heading."""
    lines = README.split(f"| {heading} |", 1)[1].split("\n\n", 1)[0].splitlines()[2:]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


def actions_of(key: str) -> list[Action]:
    """Return the actions whose key is written like this."""
    return [each for each in ACTIONS if key in each.written.split()]


def words_of(text: str) -> set[str]:
    """Return the words that say something, without an s at the end."""
    found = re.findall(r"[a-z]+", text.lower())
    return {word.removesuffix("s") for word in found if len(word) >= LEAST_LETTERS} - COMMON_WORDS


@pytest.mark.parametrize("row", table("key"), ids=lambda row: row[0])
def test_every_key_of_the_table_does_what_the_table_says(row: list[str]):
    """Each has an action in `tui/actions.py`, described with one of the same words.

    A key of the first column may have several, all of which the row is about; one that the text names, any.
    """
    for cell, enough in zip(row, (all, any), strict=True):
        for key in re.findall(r"`([^`]+)`", cell):
            described = [words_of(f"{action.label} {action.tooltip}") for action in actions_of(key)]
            assert described, f"no action has the key {key}"
            assert enough(words & words_of(row[1]) for words in described), f"{key}: {described}"


def test_every_pattern_is_in_the_table_and_every_one_in_the_table_exists():
    """One key, one look, one question."""
    named = {name for row in table("question") for name in re.findall(r"`([^`]+)`", row[1])}
    assert named == {pattern.name for pattern in all_patterns()}


@pytest.mark.parametrize(
    ("words", "kind"),
    [
        (["send", "level", "-u", "1", "--to", "127.0.0.1", "--seconds", "0.1", "--json"], "send"),
        (["check", "display.toml", "--json"], "check"),
        (["plan", "display.toml", "--json"], "plan"),
    ],
)
def test_the_keys_of_the_json_are_those_in_the_table(words: list[str], kind: str):
    """In the same order; those of the demo are checked where its findings are."""
    assert run_loaded("new", "display.toml").code == 0
    done = run_loaded(*words)
    assert done.code == 0, done.err
    row = next(row for row in table("command with `--json`") if f"`{kind}`" in row[0])
    keys = list(done.json)
    assert [key for key in re.findall(r"`([a-z_]+)`", row[1]) if key in keys][: len(keys)] == keys


def test_the_keys_of_the_doctors_json_are_those_in_the_table():
    """Of a file that is not there: its check has every key, and nothing is sent."""
    row = next(row for row in table("command with `--json`") if "`doctor`" in row[0])
    told = run_loaded("doctor", "nothing.toml", "--json").json
    named = set(re.findall(r"`([a-z_ ]+)`", row[1]))
    assert named == {*told, *told["checks"][0], *map(str, State), "null"}


def keys_under(value: object, name: str) -> set[str]:
    """Return the keys of every object under this name, of those in a list there too, wherever it is."""
    if isinstance(value, list):
        return set().union(*(keys_under(each, name) for each in value))
    if not isinstance(value, dict):
        return set()
    found = set().union(*(keys_under(each, name) for each in value.values()))
    inner = value.get(name)
    objects = inner if isinstance(inner, list) else [inner]
    return found.union(*(set(each) for each in objects if isinstance(each, dict)))


@cache
def slow_plan() -> dict[str, object]:
    """Return the JSON of a plan that has every key: strings too long for the rate, and a universe apart."""
    slow = starter_text().replace("nodes = 50 ", "nodes = 1000 ").replace("universe = 9", "universe = 99")
    display = parse(slow, "slow.toml")
    power = power_of(display, power_plan(display, 30), "None.")
    plan: dict[str, object] = json.loads(
        json.dumps(plan_of(display, Asked(40), Host((), 0), power).as_dict())
    )
    return plan


@pytest.mark.parametrize("row", table("in `plan --json`"), ids=lambda row: row[0])
def test_the_keys_inside_the_json_of_a_plan_are_those_in_the_table(row: list[str]):
    """None is missing, and none is named that is not there."""
    name, data = row[0].strip("`"), slow_plan()
    named = set(re.findall(r"`([a-z_0-9]+)`", row[1]))
    assert keys_under(data, name) <= named
    everywhere = set(re.findall(r'"([a-z_0-9]+)": ', json.dumps(data)))
    assert named <= everywhere | {"fault", "warning", "e131", "artnet", "tint", "null"}


@pytest.mark.parametrize("row", table("in `report --json`"), ids=lambda row: row[0])
def test_the_keys_inside_the_json_of_a_report_are_those_in_the_table(row: list[str]):
    """None is missing, and none is named that is not there."""
    data = as_dict(stormy_report(), file="display.toml")
    named = set(re.findall(r"`([a-z_0-9]+)`", row[1]))
    assert keys_under(data, row[0].strip("`")) <= named
    everywhere = set(re.findall(r'"([a-z_0-9]+)": ', json.dumps(data)))
    assert named <= everywhere | {"notice", "remark", "failure", "null"}
    top = next(row for row in table("command with `--json`") if "`report`" in row[0])
    assert re.findall(r"`([a-z_]+)`", top[1]) == list(data)


def test_the_keys_of_the_demo_are_those_in_the_table():
    """As `tests/demo` holds them."""
    row = next(row for row in table("command with `--json`") if "`demo`" in row[0])
    source = inspect.getsource(Findings.as_dict)
    keys = re.findall(r'^            "([a-z_]+)":', source, re.MULTILINE)
    assert re.findall(r"`([a-z_]+)`", row[1])[: len(keys)] == keys
