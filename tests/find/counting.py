"""The robot at `ropewalk count`, by prompt: it reads the questions as a person does."""

import os
import subprocess
import time
from pathlib import Path

from streamer.display.file import load
from streamer.find.answers import YES
from streamer.yard.faults import NodeCount
from tests.cli.conftest import LIMIT_S, Done
from tests.cli.warm import ROPEWALK
from tests.find import robot
from tests.find.wired_lawn import Lawn
from tests.pipes import piped

ASKED = {
    "the last lit node": "last",
    "the first lit node": "first",
    "is node 1": "head",
    "the very last": "tail",
}
"""What a question is about, by words in it; the rest is a yes or no about the whole picture."""
END = "Your answer, then Enter:"


def count_by_robot(path: Path, port: str, nodes: int) -> Done:
    """Run `ropewalk count` on a port whose string has so many nodes, and answer yes to writing it."""
    lawn = Lawn(load(path), {port: [NodeCount(nodes=nodes)]})
    process = subprocess.Popen(
        [ROPEWALK, "count", str(path), "--port", port],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "COLUMNS": "200"},
    )
    with lawn.sockets:
        told, new, limit_s = "", "", time.monotonic() + LIMIT_S
        os.set_blocking(piped(process.stdout).fileno(), False)
        while process.poll() is None and time.monotonic() < limit_s:
            lawn.settle()
            # A question may come in pieces: it is answered when it is whole.
            new += (piped(process.stdout).read() or b"").decode()
            if new.rstrip().endswith(END):
                _give(process, _key(new, lawn, port))
            elif "[y/n]" in new:
                _give(process, "y")
            else:
                continue
            told, new = told + new, ""
    rest, err = process.communicate(timeout=LIMIT_S)
    return Done(process.returncode, told + new + (rest or b"").decode(), err.decode())


def _give(process: "subprocess.Popen[bytes]", key: str) -> None:
    piped(process.stdin).write(f"{key}\n".encode())
    piped(process.stdin).flush()


def _key(question: str, lawn: Lawn, port: str) -> str:
    """Return the key for what is seen now."""
    lights = robot.seen(lawn.samples(port, flickers=False), "six")
    lit: robot.Sight = [light for light in lights if light is not robot.A.NONE]
    asked = next((about for words, about in ASKED.items() if words in question), "match")
    if asked == "match":
        return str(int(YES))
    answers: dict[str, robot.Sight] = {
        "last": lit[-1:],
        "first": lit[:1],
        "head": lights[:1],
        "tail": lights[-1:],
    }
    return str(int((answers[asked] or [robot.A.NONE])[0]))
