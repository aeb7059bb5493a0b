"""What sending costs: processor time a packet, ours by each way beside a C program's and two libraries'.

Not a test: `python -m tests.bench.wire [--quick] [--json]`. Loopback only, and it ends by itself: after about
four minutes, or half of one. A reader in a process of its own drains and counts every packet. Times move from
run to run and ratios of one run move less, so rounds are interleaved and medians are shown. Needs Linux;
without a C compiler the C rows are left out and the reader is Python's.
"""

import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from statistics import median

from tests.bench.contenders import CONTENDERS, IN_C, LOOPBACK, MULTICAST

UNIVERSES = (10, 100, 1000)
RATES_HZ = (40, 0)
"""0 is flat out."""
LIMIT_S = 60
WARM_FRAMES = 4
"""Before measuring begins."""
QUICK = 0.35, 1
WHOLE = 1.0, 3
"""Seconds for each measurement, and rounds."""
END = b"."
END_AGAIN_S = 0.02
DRAIN_IN_PYTHON = """
import socket
reader = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
reader.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4 << 20)
reader.bind(("127.0.0.1", 0))
print(reader.getsockname()[1], flush=True)
count, into = 0, bytearray(2048)
while reader.recv_into(into) != 1:
    count += 1
print(count)
"""
RATIOS = (
    ("ours", "C offload", "at most 1.5"),
    ("ours, sendmmsg only", "C sendmmsg", ""),
    ("ours, multicast", "C multicast", ""),
    ("stupidArtnet", "ours", "at least 2"),
    ("sacn", "ours", "at least 20"),
    ("stupidArtnet", "ours, multicast", ""),
    ("Python sendto", "ours", ""),
)


@dataclass(frozen=True)
class Cost:
    """One measurement."""

    cpu_us: float
    """Of the sending process, its system calls included, for each packet."""
    sent: int
    heard: int


@dataclass(frozen=True)
class Case:
    """Who sends how much; a rate of 0 is flat out."""

    contender: str
    universes: int
    rate_hz: int

    def __str__(self) -> str:
        rate = f"{self.rate_hz} Hz" if self.rate_hz else "flat out"
        return f"{self.contender}, {self.universes} universes, {rate}"


class Bench:
    """Measures cases, one after another."""

    def __init__(self, seconds: float, program: Path | None) -> None:
        self._seconds = seconds
        self._program = program

    def measure(self, case: Case) -> Cost:
        """Let a contender send to a fresh reader for a while."""
        with self._reader(case.universes if case.contender in MULTICAST else 0) as (port, end):
            cpu_us, sent = self._in_c(case, port) if case.contender in IN_C else self._here(case, port)
            return Cost(cpu_us, sent, end())

    def _here(self, case: Case, port: int) -> tuple[float, int]:
        frame = CONTENDERS[case.contender](case.universes, port)
        for _ in range(WARM_FRAMES):
            frame()
        frames, began_s, used_s = 0, time.monotonic(), time.process_time()
        while time.monotonic() < began_s + self._seconds:
            frame()
            frames += 1
            if case.rate_hz:
                time.sleep(max(0.0, began_s + frames / case.rate_hz - time.monotonic()))
        used_s = time.process_time() - used_s
        return used_s / (frames * case.universes) * 1e6, (frames + WARM_FRAMES) * case.universes

    def _in_c(self, case: Case, port: int) -> tuple[float, int]:
        words = IN_C[case.contender], case.universes, self._seconds, case.rate_hz, port
        done = subprocess.run(
            [str(self._program), "send", *map(str, words)],
            capture_output=True,
            text=True,
            check=True,
            timeout=LIMIT_S,
        )
        cpu_us, sent = done.stdout.split()
        return float(cpu_us), int(sent)

    @contextmanager
    def _reader(self, groups: int) -> Iterator[tuple[int, "Ending"]]:
        command = [str(self._program), "drain", str(groups)]
        if self._program is None:
            command = [sys.executable, "-S", "-c", DRAIN_IN_PYTHON]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as reader:
            _pin(reader.pid, -1)
            assert reader.stdout
            port = int(reader.stdout.readline())
            try:
                yield port, Ending(reader, port)
            finally:
                reader.kill()


class Ending:
    """Ends a reader, and asks what it heard."""

    def __init__(self, reader: subprocess.Popen[str], port: int) -> None:
        self._reader, self._port = reader, port

    def __call__(self) -> int:
        """Send the end until it is heard: a full buffer may drop it too."""
        assert self._reader.stdout
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
            while self._reader.poll() is None:
                sock.sendto(END, (LOOPBACK, self._port))
                time.sleep(END_AGAIN_S)
        return int(self._reader.stdout.readline())


def _pin(process: int, core: int) -> None:
    """Keep the sender and the reader on cores of their own, where there are two."""
    cores = sorted(os.sched_getaffinity(os.getpid())) if process == 0 else list(range(os.cpu_count() or 1))
    os.sched_setaffinity(process, {cores[core]})


def _compiled(folder: Path) -> Path | None:
    compiler = shutil.which("cc")
    if compiler is None:
        return None
    program = folder / "wire"
    source = Path(__file__).with_name("wire.c")
    subprocess.run([compiler, "-O2", "-Wall", "-Wextra", "-o", program, source], check=True)
    return program


def measured(seconds: float, rounds: int) -> dict[Case, list[Cost]]:
    """Measure every case once in each round."""
    found: dict[Case, list[Cost]] = defaultdict(list)
    with tempfile.TemporaryDirectory() as folder:
        program = _compiled(Path(folder))
        names = [*CONTENDERS, *IN_C] if program else [each for each in CONTENDERS if each not in MULTICAST]
        bench = Bench(seconds, program)
        _pin(0, 0)
        for _ in range(rounds):
            for universes in UNIVERSES:
                for rate_hz in RATES_HZ:
                    for name in names:
                        case = Case(name, universes, rate_hz)
                        found[case].append(bench.measure(case))
    return found


def _table(found: dict[Case, list[Cost]]) -> str:
    columns = [(universes, rate_hz) for rate_hz in RATES_HZ for universes in UNIVERSES]
    heads = [f"{universes}{f' at {rate_hz}' if rate_hz else ' flat'}" for universes, rate_hz in columns]
    lines = [f"{'us a packet':22}" + "".join(f"{head:>11}" for head in heads)]
    for name in dict.fromkeys(case.contender for case in found):
        costs = [_cpu_us(found, Case(name, *column)) for column in columns]
        lines.append(f"{name:22}" + "".join(f"{cost:>11.2f}" for cost in costs))
    lines.append("\nratios, of this run")
    for above, below, wanted in RATIOS:
        if Case(below, *columns[0]) in found:
            ratios = [
                _cpu_us(found, Case(above, *each)) / _cpu_us(found, Case(below, *each)) for each in columns
            ]
            name = f"{above} / {below}"
            lines.append(f"{name:33}" + "".join(f"{ratio:>8.2f}" for ratio in ratios) + f"  {wanted}")
    return "\n".join(lines)


def _cpu_us(found: dict[Case, list[Cost]], case: Case) -> float:
    return median(cost.cpu_us for cost in found[case])


def _lost(found: dict[Case, list[Cost]]) -> Iterator[str]:
    for case, costs in found.items():
        sent, heard = sum(cost.sent for cost in costs), sum(cost.heard for cost in costs)
        if sent != heard:
            yield f"{case}: {heard} of {sent} packets were heard"


def main() -> None:
    """Measure, and print a table or JSON."""
    found = measured(*(QUICK if "--quick" in sys.argv else WHOLE))
    if "--json" in sys.argv:
        print(
            json.dumps([asdict(case) | {"costs": list(map(asdict, costs))} for case, costs in found.items()])
        )
    else:
        print(_table(found), *_lost(found), sep="\n")


if __name__ == "__main__":
    main()
