"""The closed loop on real UDP: the engine's own process sends, the yard's sockets hear, the robot looks."""

import json
import random
import select
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from patterns.plain import Bytes
from streamer.cli.lights import Lights
from streamer.display.model import Display
from streamer.display.ranges import readdress
from streamer.display.sample import SAMPLE_NAME, sample_display
from streamer.engine.messages import Setup, Show
from streamer.find.answers import Answer
from streamer.find.finding import Bench, Finding
from streamer.find.questions import Asks
from streamer.find.verdict import verdict_of
from streamer.logbook.records import Kind
from streamer.logbook.records import Verdict as LogbookVerdict
from streamer.logbook.store import logbook_path, read_logbook
from streamer.yard.faults import Break, Fault
from streamer.yard.sockets import YardSockets
from streamer.yard.yard import Yard
from tests.cli.conftest import ADDRESS, LIMIT_S
from tests.cli.warm import ROPEWALK
from tests.find import robot
from tests.find.draws import draw, faults_of
from tests.pipes import piped

SAMPLE = Path(__file__).parents[2] / "streamer/display" / SAMPLE_NAME
DRAWS = 24
BEATS, BEAT_S = 4, 0.25
SETTLE_S, QUIET_S, LATE_S = 0.2, 0.1, 3.0
"""A picture is sent four times over, then it is quiet; a busy machine may be late."""
CODES = {"ff": 1, "00": 0}


class Lawn:
    """The yard on real sockets, looked at for a second at a time."""

    def __init__(self, display: Display, faults: dict[str, list[Fault]]) -> None:
        self.yard = Yard(display)
        for port, given in faults.items():
            self.yard.set_faults(port, given)
        self.sockets = YardSockets(self.yard)

    def wait(self, seconds: float) -> None:
        """Take what arrives for so long."""
        limit_s = time.monotonic() + seconds
        while (left_s := limit_s - time.monotonic()) > 0:
            select.select(self.sockets.filenos(), [], [], left_s)
            self.sockets.poll(time.monotonic())

    def settle(self) -> None:
        """Wait until a picture has come and nothing more does."""
        self.wait(SETTLE_S)
        limit_s = time.monotonic() + LATE_S
        while time.monotonic() < limit_s and select.select(self.sockets.filenos(), [], [], QUIET_S)[0]:
            self.sockets.poll(time.monotonic())

    def samples(self, port: str, *, flickers: bool) -> list[Bytes]:
        """Return what a port's lights show, at one moment or over a second."""
        found = []
        for _ in range(BEATS if flickers else 1):
            self.yard.expire(time.monotonic())
            found.append(self.yard.shown(port))
            if flickers:
                self.wait(BEAT_S)
        return found


@pytest.fixture(name="folders", autouse=True)
def _folders(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Keep sockets and settings to the test."""
    folder = tempfile.mkdtemp(prefix="rw")
    monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", f"{folder}/r")
    monkeypatch.setenv("ROPEWALK_CONFIG_DIR", f"{folder}/c")
    yield
    shutil.rmtree(folder, ignore_errors=True)


@pytest.mark.long
def test_drawn_faults_are_named_over_real_packets():
    """Of 24 draws on the demo's display, each sent by an engine of its own, all are named at their place."""
    display, chance = readdress(sample_display(), (ADDRESS,)), random.Random(2)  # noqa: S311
    benches = {port.name: Bench(display, port.name) for port in display.ports}
    for _ in range(DRAWS):
        bench = benches[chance.choice(sorted(benches))]
        row = bench.table.rows[draw(bench.table, chance)]
        found = _search(display, bench, faults_of(bench, row))
        assert found.possibilities()[0].row == row, verdict_of(found).sentence


def _search(display: Display, bench: Bench, faults: dict[str, list[Fault]]) -> Finding:
    lawn, finding, thinking = Lawn(display, faults), Finding(bench), bench.thinking
    flickers = any(fault.kind == "flicker" for each in faults.values() for fault in each)
    witness = thinking.witness.name if thinking.witness else thinking.port.name
    with lawn.sockets, Lights(Setup(display=bench.canvas), "find") as lights:
        while finding.look:
            lights.put_up(Show(pattern="picture", params={"nodes": finding.nodes}, pace=0.0))
            lawn.settle()
            eyes = bench.terms.eyes
            finding.answer(
                robot.answer(
                    finding.look.asks,
                    lawn.samples(thinking.port.name, flickers=flickers),
                    eyes.name,
                    fed_at_end=thinking.port.reversed,
                    sent=frozenset(Answer(int(eyes.seen[code])) for code in finding.look.picture.sent),
                    beside=lawn.samples(witness, flickers=False),
                    expected=() if finding.look.expected is None else finding.look.expected.tolist(),
                )
            )
    return finding


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
