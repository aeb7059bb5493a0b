"""`ropewalk log` as people and scripts use it."""

import csv
import io
from importlib import resources
from pathlib import Path

import pytest

from streamer.display.sample import SAMPLE_NAME
from tests.cli.conftest import run

LINES_OF_THE_SAMPLE = 10


@pytest.fixture(name="file")
def _file(tmp_path: Path) -> Path:
    file = tmp_path / "display.toml"
    file.write_text(resources.files("streamer.display").joinpath(SAMPLE_NAME).read_text("utf-8"), "utf-8")
    return file


def test_looking_makes_no_logbook(file: Path):
    """Where nothing was noted, everything is not looked at."""
    done = run("log", file)
    assert done.code == 0
    assert done.out.startswith("Boathouse: 8 strings and 2 fixtures. 10 not looked at.\n")
    assert [each.name for each in file.parent.iterdir()] == ["display.toml"]


def test_what_is_noted_is_shown_in_every_form(file: Path):
    """As text, CSV, HTML and JSON."""
    assert run("log", file, "--fixed", "boathouse/1", "=new\nlead").out == "boathouse/1: fixed: =new lead\n"
    assert run("log", file, "--note", "Flood, reeds", "leans").code == 0
    text = run("log", file, "--open").out
    assert "Fixed but not proven again\n  boathouse/1, Gable" in text
    assert "fixture Flood, reeds" in text
    rows = list(csv.DictReader(io.StringIO(run("log", file, "--csv").out)))
    assert [(row["what"], row["name"], row["words"]) for row in rows] == [
        ("fixed", "boathouse/1", "'=new lead"),
        ("note", "Flood, reeds", "leans"),
    ]
    assert len(list(csv.reader(io.StringIO(run("log", file, "--open", "--csv").out)))) == 11
    assert "<h3>boathouse/1, Gable</h3>" in run("log", file, "--html").out
    told = run("log", file, "--json").json
    assert told["counts"]["fixed but not proven again"] == 1
    assert len(told["strings"]) == LINES_OF_THE_SAMPLE


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--fixed", "boathouse/77", "x"), "--fixed: there is no 'boathouse/77'. There are boathouse/1"),
        (("--note", "boathouse/1", "  "), "--note: the note has 0 characters. Write 1 to 2000"),
        (("--note", "boathouse/1", "x" * 2_001), "--note: the note has 2001 characters"),
    ],
)
def test_a_wrong_note_is_told_and_none_is_written(file: Path, words: tuple[str, ...], said: str):
    """The command line was wrong: exit code 2."""
    done = run("log", file, *words)
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith(said)
    assert not file.with_name("display.toml.logbook").exists()


def test_a_logbook_that_is_none_is_told_in_a_sentence(file: Path):
    """Exit code 1, and no traceback."""
    file.with_name("display.toml.logbook").write_text("dear diary\n" * 100)
    for words in ((), ("--note", "boathouse/1", "x"), ("--json",)):
        done = run("log", file, *words)
        assert (done.code, done.out) == (1, "")
        assert "this is no logbook. Nothing was changed." in done.err


def test_proving_a_port_that_is_not_there_is_told(file: Path):
    """Before anything is sent or written."""
    done = run("prove", file, "--port", "jetty/1")
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith("--port: there is no 'jetty/1'. There are boathouse/1")
    assert not file.with_name("display.toml.logbook").exists()
