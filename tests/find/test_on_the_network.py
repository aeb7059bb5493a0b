"""Another program as the eyes of `ropewalk find`: the engine's own process sends, the yard's sockets hear."""

import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from streamer.display.ranges import readdress
from streamer.display.sample import SAMPLE_NAME, sample_display
from streamer.find.answers import Answer
from streamer.find.questions import Asks
from streamer.logbook.records import Kind
from streamer.logbook.records import Verdict as LogbookVerdict
from streamer.logbook.store import logbook_path, read_logbook
from streamer.yard.faults import Break
from tests.cli.conftest import ADDRESS, LIMIT_S
from tests.cli.warm import ROPEWALK
from tests.find import robot
from tests.find.wired_lawn import SETTLE_S, Lawn
from tests.pipes import piped

SAMPLE = Path(__file__).parents[2] / "streamer/display" / SAMPLE_NAME


pytestmark = pytest.mark.usefixtures("own_folders")


@pytest.mark.rig
@pytest.mark.parametrize(("port", "after"), [("boathouse/1", 41), ("boathouse/2", 57), ("lake/3", 30)])
def test_another_program_can_be_the_eyes(port: str, after: int, tmp_path: Path):
    """`find --answers -`: looks out, answers in, the verdict last, and noted; then the lights are dark."""
    file = Path(shutil.copy(SAMPLE, tmp_path))
    display = readdress(sample_display(), (ADDRESS,))
    lawn = Lawn(display, {port: [Break(after=after)]})
    planned = next(each for each in display.ports if each.name == port)
    process = begin_to_answer("find", str(file), "--port", port, "--to", ADDRESS, "--answers", "-")
    with lawn.sockets:
        while (said := _line(process))["kind"] == "look":
            lawn.settle()
            given = _robot(said, lawn, fed_at_end=planned.reversed)
            piped(process.stdin).write(json.dumps({"answer": int(given)}) + "\n")
            piped(process.stdin).flush()
        out, err = process.communicate(timeout=LIMIT_S)
        lawn.wait(SETTLE_S)
        assert not lawn.yard.seen().nodes.any()
    assert (out, err, process.returncode) == ("", "", 1)
    assert said["kind"] == "verdict"
    assert said["fault"] == "break"
    assert f"between node {after} and" in said["sentence"]
    assert said["is_certain"] is True
    (entry,) = read_logbook(logbook_path(file))
    assert (entry.name, entry.kind, entry.verdict) == (port, Kind.FOUND, LogbookVerdict.FAULT)
    assert entry.words == said["sentence"]


def begin_to_answer(*words: str) -> "subprocess.Popen[str]":
    """Start `ropewalk` with these words, to be answered."""
    return subprocess.Popen(
        [ROPEWALK, *words],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def _line(process: "subprocess.Popen[str]") -> dict[str, Any]:
    line = piped(process.stdout).readline()
    assert line, piped(process.stderr).read()
    said: dict[str, Any] = json.loads(line)
    return said


def _robot(said: dict[str, Any], lawn: Lawn, *, fed_at_end: bool) -> Answer:
    """Return the robot's answer to a look as it is said in JSON."""
    return robot.answer(
        Asks(said["asks"]),
        lawn.samples(said["port"], flickers=False),
        "six",
        fed_at_end=fed_at_end,
        sent=frozenset(map(_colour, said["nodes"] + said["beyond"])) - {Answer.NONE},
        beside=lawn.samples(
            "boathouse/2" if said["port"] == "boathouse/1" else "boathouse/1", flickers=False
        ),
        expected=said["expected"],
    )


def _colour(text: str) -> Answer:
    levels = [int(text[at : at + 2], 16) for at in range(1, len(text), 2)]
    (seen,) = robot.seen([np.array([levels + [0] * (4 - len(levels))], np.uint8)], "six")
    return seen
