"""A night run over a cable: the run on the near host, two controllers on the far one, and what came of it."""

import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from streamer.soak.journal import journal_path, reading
from streamer.soak.records import Event, EventKind, RunRecord, Sample
from tests.rig.cable import Cable
from tests.rig.files import JETTY

HERE = Path(__file__).parent
LIMIT_S = 60
LOOK_S = 0.1
ADDRESSES = ("10.61.0.2", "10.61.0.3")
LAWN_SECOND_S = 1.0
"""What a line of the lawn is about."""
DISPLAY = f"""
name = "Jetty and roof"
{JETTY}[[controllers]]
name = "roof"
protocol = "artnet"
address = "10.61.0.3"
[[controllers.ports]]
number = 1
port_address = 19
segments = [{{ nodes = 100 }}]
"""


class NightRig:
    """A run on the near host, two controllers on the far one."""

    def __init__(self, cable: Cable, folder: Path) -> None:
        self.cable, self.folder = cable, folder
        self.file = folder / "volume" / "display.toml"
        self.file.parent.mkdir()
        self.clock = folder / "clock"
        self.clock.write_text("0")
        self._processes: list[subprocess.Popen[bytes]] = []
        cable.far.ip("address", "add", "10.61.0.3/24", "dev", cable.far.interface)
        cable.near.run("sysctl", "-qw", "net.ipv4.ping_group_range=0 2147483647")
        self.lawns = [self._lawn(address) for address in ADDRESSES]
        self.run: subprocess.Popen[bytes] = self.lawns[0]
        self._held: tuple[int, ...] = ()

    def start(self, namespace: str, *words: str | Path, **more: Any) -> "subprocess.Popen[bytes]":
        """Start a command in a host, to be ended with the rig."""
        settings = (f"ROPEWALK_RUNTIME_DIR={self.folder}/r", f"ROPEWALK_CONFIG_DIR={self.folder}/c")
        command = ["ip", "netns", "exec", namespace, "env", *settings, *map(str, words)]
        process: subprocess.Popen[bytes] = subprocess.Popen(command, **more)
        self._processes.append(process)
        return process

    def _lawn(self, address: str) -> "subprocess.Popen[bytes]":
        words = (sys.executable, "-m", "tests.rig.lawn", address, self._log(address))
        return self.start(self.cable.far.namespace, *words, cwd=HERE.parents[1])

    def begin(self, *options: str, **more: Any) -> None:
        """Start the run, and wait until it plays."""
        if not self.file.exists():
            self.file.write_text(DISPLAY)
        self.wait_until(lambda: all(self._log(each).exists() for each in ADDRESSES))
        began_s = time.time()
        words: tuple[str | Path, ...] = (HERE / "with_clock.py", self.clock, "soak", self.file, *options)
        with (self.folder / "told").open("ab") as told:
            more = {"stdin": subprocess.DEVNULL, "stdout": told, "stderr": subprocess.STDOUT, **more}
            self.run = self.start(self.cable.near.namespace, sys.executable, *words, **more)
        self.wait_until(lambda: any(each["packets"] for each in self.arrived(since_s=began_s)))

    def wait_until_it_listens(self) -> None:
        """Wait until the run's listener to other sources, a process of its own, is up."""
        self.wait_until(lambda: bool(list((self.folder / "r").glob("beside-*.listener"))))

    def wait_until(self, is_so: Callable[[], bool]) -> None:
        """Wait until it is so."""
        limit_s = time.monotonic() + LIMIT_S
        while not is_so():
            assert time.monotonic() < limit_s, self.told()
            time.sleep(LOOK_S)

    def told(self) -> str:
        """Return what was said."""
        told = self.folder / "told"
        return told.read_text() if told.exists() else ""

    def stop(self) -> int:
        """End it early, and return its exit code."""
        self.run.send_signal(signal.SIGINT)
        return self.finish()

    def finish(self) -> int:
        """Wait for its end, and return its exit code."""
        code = self.run.wait(LIMIT_S)
        self.wait_for_the_lawns()
        assert "Traceback" not in self.told()
        return code

    def wait_for_the_lawns(self) -> None:
        """Wait until all that has come by now is in their lines."""
        now_s = time.time()
        self.wait_until(lambda: all(self._told_until_s(each) >= now_s for each in ADDRESSES))

    def _told_until_s(self, address: str) -> float:
        return max((float(each["unix_s"]) for each in self.arrived(address)), default=0.0)

    def arrived(self, address: str = ADDRESSES[0], since_s: float = 0.0) -> list[dict[str, Any]]:
        """Return what a controller took in, second by second, of those that began later than that."""
        lines = [json.loads(line) for line in self._log(address).read_text().splitlines()]
        return [each for each in lines if each["unix_s"] - LAWN_SECOND_S > since_s]

    def _log(self, address: str) -> Path:
        return self.folder / f"{address}.log"

    def events(self, kind: EventKind) -> list[Event]:
        """Return what the journal holds of a kind."""
        with reading(journal_path(self.file)) as reader:
            run = reader.runs()[-1]
            return [event for event in reader.events(run.number) if event.kind is kind]

    def samples(self) -> list[Sample]:
        """Return the samples that it holds."""
        with reading(journal_path(self.file)) as reader:
            return list(reader.samples(reader.runs()[-1].number))

    def record(self) -> RunRecord:
        """Return the run."""
        with reading(journal_path(self.file)) as reader:
            return reader.runs()[-1]

    def longest_gap_s(self) -> float:
        """Return the longest time without a packet at the first controller, while it was sent to."""
        return float(self._longest_gap()["gap_s"])

    def back_unix_s(self) -> float:
        """Return when the first packet came after the longest time without one."""
        return float(self._longest_gap()["back_unix_s"])

    def _longest_gap(self) -> dict[str, Any]:
        sent = [each for each in self.arrived() if each["packets"]]
        return max(sent[1:], key=lambda each: each["gap_s"])

    def back_after_s(self, ended_s: float, address: str = ADDRESSES[0]) -> float:
        """Return how long after this moment packets came again; 0 where they came as if nothing were."""
        assert any(each["packets"] for each in self.arrived(address, ended_s)), self.told()
        over = [
            back_s - ended_s for back_s, gap_s in self.gaps(address) if back_s - gap_s <= ended_s <= back_s
        ]
        return max(over, default=0.0)

    def gaps(self, address: str = ADDRESSES[0]) -> list[tuple[float, float]]:
        """Return every longer time without a packet: when it ended, and how long it was."""
        return [(back_s, gap_s) for each in self.arrived(address) for back_s, gap_s in each["gaps"]]

    def hold(self) -> None:
        """Hold the run and its engine, as a machine that sleeps."""
        self._held = (self.run.pid, self.engine())
        for process in self._held:
            os.kill(process, signal.SIGSTOP)

    def wake(self) -> None:
        """Let them go on, the engine first."""
        for process in reversed(self._held):
            os.kill(process, signal.SIGCONT)

    def engine(self) -> int:
        """Return the process of the run's engine."""
        words = Path(f"/proc/{self.run.pid}/task/{self.run.pid}/children").read_text().split()
        return int(words[0])

    def end(self) -> None:
        """End what is left."""
        for process in self._processes:
            process.kill()
            process.wait(LIMIT_S)


@contextmanager
def night_rig(cable: Cable) -> Iterator[NightRig]:
    """Have it in a folder of its own, and end what is left of it."""
    folder = Path(tempfile.mkdtemp(prefix="rw"))
    rig = NightRig(cable, folder)
    try:
        yield rig
    finally:
        rig.end()
        subprocess.run(["umount", rig.file.parent], capture_output=True, check=False, timeout=LIMIT_S)
        shutil.rmtree(folder, ignore_errors=True)
