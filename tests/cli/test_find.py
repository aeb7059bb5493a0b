"""`ropewalk find` and `ropewalk count` at a prompt: what is asked, what is refused, and that it ends dark."""

import json
import shutil
from pathlib import Path

import pytest

from streamer.display.file import load
from streamer.display.sample import SAMPLE_NAME
from streamer.find.finding import Bench, Finding
from streamer.find.suspects import terms_of
from streamer.logbook.records import Kind
from streamer.logbook.store import logbook_path, read_logbook
from tests.cli.conftest import ADDRESS, Done, Ear, assert_nothing_runs, run

SAMPLE = Path(__file__).parents[2] / "streamer/display" / SAMPLE_NAME
ON = ("--port", "boathouse/1", "--to", ADDRESS)
NARROW = 40


def answer(text: str, *words: str | Path, columns: int = NARROW) -> Done:
    """Run `ropewalk` with these words and this standard input."""
    return run(*words, told=text, columns=columns)


def test_a_person_answers_by_number_and_may_undo_ask_why_and_leave(ear: Ear):
    """Forty columns are enough; what is no answer is told; the lights are dark afterwards."""
    done = answer("4\nw\nu\nsoup\nq\n", "find", SAMPLE, *ON)
    assert done.code == 1, done.err
    assert done.out.count("Look 1.") == 2
    assert "Look 2." in done.out
    assert "What colour is the last lit node" in done.out
    assert "\n  8  nothing is lit\n" in done.out
    assert "Before any answer: " in done.out
    assert "Give one of 1, 2, 3" in done.out
    assert all(len(line) < NARROW for line in done.out.splitlines())
    packets = ear.heard()
    assert any(any(packet.slots) for packet in packets)
    assert not any(packets[-1].slots)
    assert_nothing_runs()


def test_the_end_of_the_input_ends_it_with_what_is_known():
    """A verdict without an answer says that nothing is known; the code is that of a fault."""
    done = answer("", "find", SAMPLE, *ON)
    assert done.code == 1
    assert "Nothing was answered" in done.out.replace("\n", " ")
    assert_nothing_runs()


def test_json_lines_say_looks_problems_reasons_and_the_verdict():
    """One object a line: `look`, `problem`, `why`, `verdict`; nothing else on standard output."""
    done = answer('{"answer": 4}\n99\n[]\n"why"\nundo\n', "find", SAMPLE, *ON, "--answers", "-")
    said = [json.loads(line) for line in done.out.splitlines()]
    kinds = [each["kind"] for each in said]
    assert kinds == ["look", "look", "problem", "problem", "why", "look", "verdict"]
    look, verdict = said[0], said[-1]
    assert look["asks"] == "last"
    assert len(look["nodes"]) == 82
    assert look["nodes"][0] == "#ff0000"
    assert look["choices"][0] == {"answer": 1, "words": "red"}
    assert look["choices"][-1] == {"answer": 0, "words": "can't tell"}
    assert said[5] == look
    assert verdict["is_certain"] is False
    assert verdict["looks"] == 0


@pytest.mark.rig
def test_no_look_is_brighter_than_fuses_and_supplies_carry(ear: Ear, folders: Path):
    """The gable box gives 2 A instead of 25: full white of its three strings must keep under 80 % of it.

    They hold 82 + 122 + 58 nodes (with 2 skipped) of 9 mA a colour and 1 mA: 264 x 27 mA at 100 %.
    """
    path = folders / "display.toml"
    path.write_text(SAMPLE.read_text().replace("amps = 25", "amps = 2", 1))
    done = answer("", "find", path, *ON, "--level", "100")
    assert "a fuse or a supply" in done.err.replace("\n", " ")
    brightest = max(max(packet.slots) for packet in ear.heard())
    assert 0 < 264 * (1 + 27 * brightest / 255) <= 1600


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (["find", SAMPLE, "--port", "pier/1"], 2, "there is no port 'pier/1'"),
        (["find", "nowhere.toml", "--port", "pier/1"], 1, "there is no such file"),
        (["find", SAMPLE, "--suspect", "ghosts"], 2, "--suspect"),
        (["find", SAMPLE, *ON, "--wrong", "0.7"], 2, "--wrong"),
        (["find", SAMPLE, *ON, "--interface", "nonesuch0"], 1, "nonesuch0"),
        (["count", SAMPLE, "--port", "pier/1"], 2, "there is no port 'pier/1'"),
    ],
)
def test_what_cannot_be_is_told_in_words(words: list[str | Path], code: int, told: str):
    """With the exit code for it, and without a traceback."""
    done = answer("", *words)
    assert done.code == code
    assert told in done.err


IN_THE_DARK = ("--to", ADDRESS, "--suspect", "break")


def answers_in_the_dark(port: str) -> str:
    """Return the lines that answer a search for breaks on a port where nothing lights."""
    finding = Finding(Bench(load(SAMPLE), port, terms_of("break", "six")))
    table, lines = finding.bench.table, ""
    dark = next(number for number, row in enumerate(table.rows) if row.reach == 0)
    while finding.look:
        given = int(finding.bench.chooser.predicted(finding.look, table.columns)[dark])
        lines += f"{given}\n"
        finding.answer(given)
    return lines


@pytest.fixture(name="file")
def _file(folders: Path) -> Path:
    """Copy the sample: the test has a display file of its own, and a logbook beside it."""
    return Path(shutil.copy(SAMPLE, folders))


@pytest.mark.rig
def test_without_a_port_it_goes_through_all(file: Path, ear: Ear):
    """Port after port in file order; s leaves one out, q ends it, dark; what came of all is told."""
    done = answer(f"s\n{answers_in_the_dark('boathouse/2')}\nq\n", "find", file, *IN_THE_DARK)
    assert done.code == 1, done.err
    told = " ".join(done.out.split())
    places = [told.index(f"Port {number} of 8: boathouse/{number}") for number in (1, 2, 3)]
    assert places == sorted(places)
    assert "Enter goes on with boathouse/3; u takes the last answer back; q ends." in told
    assert "8 ports: 1 not as planned, 7 not looked at." in told
    assert "- boathouse/2 (Walls and eaves, fed on the right): Nothing reaches the string of" in told
    assert all(len(line) < NARROW for line in done.out.splitlines())
    assert not any(ear.heard()[-1].slots)
    assert_nothing_runs()


@pytest.mark.rig
def test_a_verdict_of_a_round_is_taken_back_with_its_entry(file: Path):
    """After the verdict u asks the last look again; the logbook says that the entry was a slip."""
    done = answer(f"{answers_in_the_dark('boathouse/1')}u\nq\n", "find", file, *IN_THE_DARK)
    assert done.out.count("nothing at all?") == 2
    assert "8 not looked at" in " ".join(done.out.split())
    assert [entry.kind for entry in read_logbook(logbook_path(file))] == [Kind.FOUND, Kind.UNDONE]


@pytest.mark.rig
def test_a_program_goes_through_all_ports_too(file: Path):
    """`skip` leaves a port out; the last line is a summary of every port by name."""
    given = answers_in_the_dark("boathouse/2")
    done = answer(f"skip\n{given}", "find", file, *IN_THE_DARK, "--answers", "-")
    said = [json.loads(line) for line in done.out.splitlines()]
    assert [(each["kind"], each["port"]) for each in said[:-1]] == [
        ("look", "boathouse/1"),
        *([("look", "boathouse/2")] * given.count("\n")),
        ("verdict", "boathouse/2"),
        ("look", "boathouse/3"),
    ]
    ports = said[-1]["ports"]
    assert said[-1]["kind"] == "summary"
    assert list(ports) == [port.name for port in load(SAMPLE).ports]
    assert [ports[f"boathouse/{number}"] for number in (1, 2)] == ["not looked at", "not as planned"]


def test_a_run_in_the_way_is_named():
    """Two of one priority on a universe disturb each other (ANSI E1.31-2018 clause 6.2.3)."""
    first = run("send", "level", SAMPLE, "--to", ADDRESS, "--free", "--json")
    done = answer("", "find", SAMPLE, *ON)
    run("stop", first.json["run"])
    assert done.code == 1
    assert f"ropewalk stop {first.json['run']}" in done.err


@pytest.mark.rig
def test_a_counted_string_is_written_to_the_file(folders: Path):
    """A robot counts 90 of 82 nodes over real packets; yes writes the number, comments stay."""
    from tests.find.counting import count_by_robot

    path = folders / "display.toml"
    path.write_text(SAMPLE.read_text().replace("127.0.0.1", ADDRESS))
    done = count_by_robot(path, "boathouse/5", nodes=34)
    assert done.code == 1, done.err
    assert "has 34 nodes, not 30" in done.out.replace("\n", " ")
    ports = {port.name: port.nodes for port in load(path).ports}
    assert ports["boathouse/5"] == 34
    assert "# spare nodes, coiled up in the box" in path.read_text()
