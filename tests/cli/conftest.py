"""The `ropewalk` command as scripts use it: a process of its own, and a receiver on loopback."""

import json
import os
import select
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from streamer.errors import LinkError
from streamer.net.receiver import UdpReceiver
from streamer.wire import artnet, e131
from tests.cli.warm import ROPEWALK, warm

ADDRESS = f"127.{30 + os.getpid() % 50}.{os.getpid() // 50 % 250}.7"
"""An address of loopback's own, so that tests beside these keep theirs."""
LIMIT_S = 20
LOOK_S = 0.02


@dataclass(frozen=True)
class Done:
    """How a command ended."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:  # noqa: ANN401  whatever JSON holds
        """What standard output says as JSON."""
        return json.loads(self.out)


@pytest.fixture(name="folders", autouse=True)
def _folders(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Keep sockets and settings to the test, in a folder whose name is short enough for a local socket."""
    folder = tempfile.mkdtemp(prefix="rw")
    monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", f"{folder}/r")
    monkeypatch.setenv("ROPEWALK_CONFIG_DIR", f"{folder}/c")
    yield Path(folder)
    stop_engines()
    shutil.rmtree(folder, ignore_errors=True)


def stop_engines() -> None:
    """End what a failed test has left running: it would be heard by the tests after it."""
    from streamer.engine.client import running_engines

    try:
        names = running_engines()
    except LinkError:  # the test was about a folder that cannot be had
        return
    for name in names:
        run("stop", name)


def run(*words: str | Path, told: str = "", cwd: Path | None = None, columns: int | None = None) -> Done:
    """Run `ropewalk` with these words and this standard input, without a terminal."""
    width = {} if columns is None else {"COLUMNS": str(columns)}
    done = warm().run(list(map(str, words)), told, {**os.environ, **width}, cwd or Path.cwd(), LIMIT_S)
    assert "\x1b" not in done.stdout + done.stderr
    assert "Traceback" not in done.stderr
    return Done(done.returncode, done.stdout, done.stderr)


def begin(*words: str) -> "subprocess.Popen[str]":
    """Start `ropewalk` with these words, and leave it running."""
    return subprocess.Popen(
        [ROPEWALK, *words],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


@dataclass
class Ear:
    """A receiver, and what it has heard."""

    receiver: UdpReceiver
    parse: Any

    def wait(self) -> None:
        """Wait until something is there."""
        assert select.select([self.receiver.fileno()], [], [], LIMIT_S)[0], "nothing arrived"

    def heard(self) -> list[Any]:
        """Return the packets that have arrived."""
        return [self.parse(each.payload) for each in self.receiver.receive(100_000)]

    def heard_until_quiet(self, quiet_s: float = 0.5) -> list[Any]:
        """Return what arrives until nothing has for a while, or the limit is reached."""
        packets, limit_s = self.heard(), time.monotonic() + LIMIT_S
        while time.monotonic() < limit_s and select.select([self.receiver.fileno()], [], [], quiet_s)[0]:
            packets += self.heard()
        return packets


@pytest.fixture(name="ear")
def _ear() -> Iterator[Ear]:
    """Listen for E1.31."""
    with UdpReceiver(e131.PORT, ADDRESS) as receiver:
        yield Ear(receiver, e131.parse)


@pytest.fixture(name="artnet_ear")
def _artnet_ear() -> Iterator[Ear]:
    """Listen for Art-Net."""
    with UdpReceiver(artnet.PORT, ADDRESS) as receiver:
        yield Ear(receiver, artnet.parse)


def assert_nothing_runs() -> None:
    """Wait for the engines of this test to have gone: an orphan would stay for longer than this."""
    from streamer.engine.client import running_engines

    limit_s = time.monotonic() + LIMIT_S
    while time.monotonic() < limit_s:
        if not running_engines():
            return
        time.sleep(LOOK_S)
    assert not running_engines()
