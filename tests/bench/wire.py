"""What sending costs: processor time a packet, ours by each way beside a C program's and two libraries'.

Not a test: `python -m tests.bench.wire [--quick] [--json]`. Loopback only, and it ends by itself: after about
four and a half minutes, or half of one. A reader in a process of its own drains and counts every packet.
Times move from run to run and ratios of one run move less, so rounds are interleaved and medians are shown.
Needs Linux; without a C compiler the C rows are left out and the reader is Python's.
"""

import subprocess
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from statistics import median

from tests.bench.contenders import CONTENDERS, IN_C, MULTICAST
from tests.bench.measuring import IS_QUICK, SENDERS_CORE, compiled, pin, print_found, reading

UNIVERSES = (10, 100, 1000)
RATES_HZ = (40, 0)
"""0 is flat out."""
LIMIT_S = 60
WARM_FRAMES = 4
"""Before measuring begins."""
QUICK = 0.35, 1
WHOLE = 1.0, 3
"""Seconds for each measurement, and rounds."""
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
        groups = case.universes if case.contender in MULTICAST else 0
        with reading(self._program, groups=groups) as (port, end):
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


def measured(seconds: float, rounds: int) -> dict[Case, list[Cost]]:
    """Measure every case once in each round."""
    found: dict[Case, list[Cost]] = defaultdict(list)
    with tempfile.TemporaryDirectory() as folder:
        program = compiled(Path(folder))
        names = [*CONTENDERS, *IN_C] if program else [each for each in CONTENDERS if each not in MULTICAST]
        bench = Bench(seconds, program)
        pin(0, SENDERS_CORE)
        for _ in range(rounds):
            for universes in UNIVERSES:
                for rate_hz in RATES_HZ:
                    for name in names:
                        case = Case(name, universes, rate_hz)
                        found[case].append(bench.measure(case))
    return found


COLUMNS = [(universes, rate_hz) for rate_hz in RATES_HZ for universes in UNIVERSES]
HEADS = [f"{universes}{f' at {rate_hz} Hz' if rate_hz else ' flat out'}" for universes, rate_hz in COLUMNS]


def _rows(found: dict[Case, list[Cost]]) -> Iterator[list[str]]:
    for name in dict.fromkeys(case.contender for case in found):
        yield [name, *(f"{_cpu_us(found, Case(name, *column)):.2f}" for column in COLUMNS)]
    for above, below, wanted in RATIOS:
        if Case(below, *COLUMNS[0]) in found:
            ratios = [
                _cpu_us(found, Case(above, *each)) / _cpu_us(found, Case(below, *each)) for each in COLUMNS
            ]
            yield [f"{above} / {below} {wanted}", *(f"{ratio:.2f}" for ratio in ratios)]


def _cpu_us(found: dict[Case, list[Cost]], case: Case) -> float:
    return median(cost.cpu_us for cost in found[case])


def _lost(found: dict[Case, list[Cost]]) -> Iterator[str]:
    for case, costs in found.items():
        sent, heard = sum(cost.sent for cost in costs), sum(cost.heard for cost in costs)
        if sent != heard:
            yield f"{case}: {heard} of {sent} packets were heard"


def main() -> None:
    """Measure, and print a table or JSON."""
    found = measured(*(QUICK if IS_QUICK else WHOLE))
    plain = [asdict(case) | {"costs": list(map(asdict, costs))} for case, costs in found.items()]
    print_found(plain, ["us a packet", *HEADS], list(_rows(found)), *_lost(found))


if __name__ == "__main__":
    main()
