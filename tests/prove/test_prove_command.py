"""`ropewalk prove` on real UDP: a robot before a yard in this process is the eyes of the command."""

import json
import os
import select
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import Any

import pytest

from streamer.display.file import load
from streamer.display.sample import SAMPLE_NAME
from streamer.engine.client import running_engines
from streamer.logbook.records import Kind
from streamer.logbook.store import logbook_path, read_logbook
from streamer.yard.sockets import YardSockets
from streamer.yard.words import parse_fault
from streamer.yard.yard import Yard
from tests.prove.robot import Robot

pytestmark = pytest.mark.rig

ROPEWALK = str(Path(sys.executable).with_name("ropewalk"))
LIMIT_S = 20.0
QUIET_S = 0.05
"""Two frames: what has been sent for a look has arrived by then."""


@pytest.fixture(name="file")
def _file(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Write the sample's display file into a folder of the test's own."""
    folder = Path(tempfile.mkdtemp(prefix="rw"))
    monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", str(folder / "r"))
    monkeypatch.setenv("ROPEWALK_CONFIG_DIR", str(folder / "c"))
    file = folder / "display.toml"
    file.write_text(resources.files("streamer.display").joinpath(SAMPLE_NAME).read_text("utf-8"), "utf-8")
    yield file
    shutil.rmtree(folder, ignore_errors=True)


class Lawn:
    """A yard on its sockets, and a robot before it."""

    def __init__(self, file: Path, faults: dict[str, str]) -> None:
        display = load(file)
        self.yard = Yard(display)
        for port, fault in faults.items():
            self.yard.set_faults(port, [parse_fault(fault)])
        self.sockets = YardSockets(self.yard)
        self.robot = Robot(self.yard, display)

    def look(self, seconds: float) -> None:
        """Let packets arrive for so long, and take in all that have, however late we come to it."""
        limit_s = time.monotonic() + seconds
        while (left_s := limit_s - time.monotonic()) > 0:
            select.select(self.sockets.filenos(), [], [], min(left_s, QUIET_S))
            self.sockets.poll(time.monotonic())
            self.yard.expire(time.monotonic())
        while self.sockets.poll(time.monotonic()):
            pass


class Command:
    """`ropewalk prove FILE --answers -`."""

    def __init__(self, lawn: Lawn, *words: str | Path) -> None:
        self._lawn = lawn
        self.process = subprocess.Popen(
            [ROPEWALK, "prove", *map(str, words), "--answers", "-"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        self._read = b""

    def next(self) -> dict[str, Any]:
        """Return the next line, the yard going on meanwhile."""
        assert self.process.stdout
        limit_s = time.monotonic() + LIMIT_S
        while b"\n" not in self._read:
            assert time.monotonic() < limit_s, "nothing was said"
            self._lawn.look(0.01)
            if select.select([self.process.stdout], [], [], 0)[0]:
                piece = os.read(self.process.stdout.fileno(), 65_536)
                assert piece, self.process.stderr and self.process.stderr.read()
                self._read += piece
        line, _, self._read = self._read.partition(b"\n")
        return dict(json.loads(line))

    def say(self, key: str) -> None:
        """Answer."""
        assert self.process.stdin
        self.process.stdin.write(json.dumps({"answer": key}).encode() + b"\n")
        self.process.stdin.flush()

    def walk(self, most: int = 1_000) -> dict[str, Any]:
        """Answer so many looks by what is seen, and return the verdict, or the last look."""
        for _ in range(most):
            said = self.next()
            if said["kind"] == "verdict":
                return said
            assert said["kind"] == "look", said
            self._lawn.look(QUIET_S)
            self.say(self._lawn.robot.key(said))
            assert self.next()["kind"] == "noted"
        return self.next()

    def end(self) -> int:
        """Let it end, the yard going on, and return its exit code."""
        limit_s = time.monotonic() + LIMIT_S
        while self.process.poll() is None:
            assert time.monotonic() < limit_s
            self._lawn.look(0.02)
        for stream in (self.process.stdin, self.process.stdout, self.process.stderr):
            assert stream
            stream.close()
        return self.process.returncode


@pytest.mark.parametrize(
    ("faults", "at_fault"),
    [
        ({}, []),
        ({"boathouse/1": "order:RGB", "lake/3": "break:40"}, ["boathouse/1", "lake/3"]),
        pytest.param(
            {"lake/2": "slot:+1", "boathouse/5": "turned"},
            ["boathouse/5", "lake/2"],
            marks=pytest.mark.long,
        ),
        pytest.param(
            {"boathouse/1": "universe:+1", "boathouse/4": "nodes:112"},
            ["boathouse/1", "boathouse/4"],
            marks=pytest.mark.long,
        ),
        ({"boathouse/3": "swapped:lake/1"}, ["boathouse/3", "lake/1"]),
    ],
    ids=str,
)
def test_over_real_udp_each_fault_is_found_on_its_own_string(
    file: Path, faults: dict[str, str], at_fault: list[str]
):
    """A healthy display is proven whole; the exit code says which it was; the lights are dark afterwards."""
    lawn = Lawn(file, faults)
    with lawn.sockets:
        command = Command(lawn, file)
        verdict = command.walk()
        code = command.end()
        lawn.look(0.2)
        assert not lawn.yard.seen().nodes.any()
        assert not lawn.yard.seen().channels.any()
    assert verdict["is_over"]
    assert verdict["at_fault"] == at_fault
    assert verdict["not_looked_at"] == []
    assert len(verdict["proven"]) == 10 - len(at_fault)
    assert verdict["find"] == [f"ropewalk find {file} --port {name}" for name in at_fault]
    assert code == (1 if at_fault else 0)


@pytest.mark.long
def test_a_walk_that_is_killed_goes_on_where_it_was(file: Path):
    """Killed six times, between an answer and the next look: what was noted is never asked again."""
    lawn = Lawn(file, {"boathouse/3": "dead:30"})
    noted = 0
    with lawn.sockets:
        for turn in range(6):
            command = Command(lawn, file)
            last = command.walk(most=1 + turn % 4)
            noted += 1 + turn % 4
            assert last["number"] == noted + 1
            command.process.send_signal(signal.SIGKILL)
            command.end()
            while running_engines():  # it notices that nobody is attached, and says farewell
                lawn.look(0.1)
        command = Command(lawn, file)
        verdict = command.walk()
        command.end()
    assert verdict["at_fault"] == ["boathouse/3"]
    assert len(verdict["proven"]) == 9
    answers = [entry for entry in read_logbook(logbook_path(file)) if entry.kind is Kind.ANSWER]
    assert len({(entry.name, entry.look) for entry in answers}) == len(answers)


def test_a_wrong_key_is_refused_undoing_takes_back_and_leaving_says_how_it_stands(file: Path):
    """As the README describes the lines."""
    lawn = Lawn(file, {})
    with lawn.sockets:
        command = Command(lawn, file)
        first = command.next()
        assert first["look"] == "which"
        command.say("9")
        assert command.next()["kind"] == "refused"
        assert command.next() == first
        command.say("1")
        assert command.next()["what"] == "answer"
        assert command.next()["number"] == 2
        command.say("u")
        assert command.next()["what"] == "undone"
        assert command.next() == first
        command.say("s")
        assert command.next()["what"] == "skipped"
        assert command.next()["name"] == "boathouse/2"
        command.say("q")
        verdict = command.next()
        assert (verdict["kind"], verdict["is_over"], len(verdict["not_looked_at"])) == ("verdict", False, 10)
        assert command.end() == 1


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_signal_ends_a_walk_with_the_lights_dark(file: Path, number: signal.Signals):
    """As leaving does."""
    lawn = Lawn(file, {})
    with lawn.sockets:
        command = Command(lawn, file)
        assert command.next()["kind"] == "look"
        lawn.look(QUIET_S)
        assert lawn.yard.seen().nodes.any()
        command.process.send_signal(number)
        assert command.next()["kind"] == "verdict"
        assert command.end() == 1
        lawn.look(0.2)
        assert not lawn.yard.seen().nodes.any()
