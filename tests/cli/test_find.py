"""`ropewalk find` and `ropewalk count` at a prompt: what is asked, what is refused, and that it ends dark."""

import json
import subprocess
from pathlib import Path

import pytest

from streamer.display.file import load
from streamer.display.sample import SAMPLE_NAME
from tests.cli.conftest import ADDRESS, LIMIT_S, ROPEWALK, Done, Ear, assert_nothing_runs, run

SAMPLE = Path(__file__).parents[2] / "streamer/display" / SAMPLE_NAME
ON = ("--port", "boathouse/1", "--to", ADDRESS)
NARROW = 40


def answer(text: str, *words: str | Path, columns: int = NARROW) -> Done:
    """Run `ropewalk` with these words and this standard input."""
    import os

    done = subprocess.run(
        [ROPEWALK, *map(str, words)],
        input=text,
        capture_output=True,
        text=True,
        check=False,
        timeout=LIMIT_S,
        env={**os.environ, "COLUMNS": str(columns)},
    )
    assert "Traceback" not in done.stderr
    assert "\x1b" not in done.stdout + done.stderr
    return Done(done.returncode, done.stdout, done.stderr)


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
        (["find", "nowhere.toml", "--port", "pier/1"], 2, "there is no such file"),
        (["find", SAMPLE], 2, "--port"),
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
