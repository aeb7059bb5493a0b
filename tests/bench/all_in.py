"""What a whole engine costs, for each frame of a universe: from the pattern to the network.

`python -m tests.bench.all_in [--quick] [--seconds N] [--json]`. A real engine process plays to a reader at 40
frames a second, as it does by default and each frame at once; nobody is attached to it, but for the "watched"
walk, which is told to us five times a second. Beside it, in the same rounds, C programs that only send, and
two libraries. Loopback only; eleven minutes, or two. Ratios hold, absolute times do not.
"""

import subprocess
import sys
import tempfile
from collections import defaultdict
from pathlib import Path
from statistics import median

from tests.bench.engines import moving, own_folders, spent, spent_alone
from tests.bench.measuring import IS_QUICK, SENDERS_CORE, asked_seconds, compiled, pin, print_found
from tests.bench.wire import Bench, Case

UNIVERSES = (10, 1000)
RATE_HZ = 40
PATTERNS = ("walk", "ramp", "sweep", "level")
BESIDE = ("C sendto", "C offload", "C offload, spread", "stupidArtnet", "sacn")
ROUNDS = 1 if IS_QUICK else 3
IDLE_IN_PYTHON = """
import sys, time
seconds, rate_hz = map(float, sys.argv[1:])
frames, began_s, used_s = int(seconds * rate_hz), time.monotonic(), time.process_time()
for frame in range(1, frames + 1):
    time.sleep(max(0.0, began_s + frame / rate_hz - time.monotonic()))
print((time.process_time() - used_s) / frames * 1e6)
"""
RATIOS = (
    ("walk", "idle loop and C sendto", "at most 1.3 at 10"),
    ("walk at once", "idle loop and C sendto", "at most 1.3 at 10"),
    ("walk watched", "idle loop and C sendto", ""),
    ("walk", "C sendto", ""),
    ("walk", "C offload", ""),
    ("walk", "C offload, spread", ""),
    ("walk at once", "C offload", ""),
    ("stupidArtnet", "walk", "at least 2"),
    ("sacn", "walk", "at least 20 at 1000"),
    ("stupidArtnet", "walk at once", "at least 2"),
    ("sacn", "walk at once", "at least 20 at 1000"),
)
Costs = dict[tuple[str, int], list[float]]
"""Microseconds of each round, by name and universes."""


def measured(seconds: float) -> Costs:
    """Measure everything once in each round."""
    costs: Costs = defaultdict(list)
    with tempfile.TemporaryDirectory() as folder, own_folders():
        program = compiled(Path(folder))
        beside = [name for name in BESIDE if program or not name.startswith("C ")]
        for _ in range(ROUNDS):
            for universes in UNIVERSES:
                for pattern in PATTERNS:
                    costs[pattern, universes].append(_engine(program, universes, pattern, seconds, None))
                    costs[f"{pattern} at once", universes].append(
                        _engine(program, universes, pattern, seconds, 0.0)
                    )
                watched = spent(program, universes, moving("walk", RATE_HZ), seconds)
                costs["walk watched", universes].append(watched.us_a_packet)
                costs["idle loop", universes].append(_idle_us(seconds) / universes)
                for name in beside:
                    cost = Bench(seconds, program).measure(Case(name, universes, RATE_HZ))
                    costs[name, universes].append(cost.cpu_us)
                if program:
                    both = costs["idle loop", universes][-1] + costs["C sendto", universes][-1]
                    costs["idle loop and C sendto", universes].append(both)
    return costs


def _idle_us(seconds: float) -> float:
    """Return what waking for a frame costs by itself, in Python: in a process of its own, as the others."""
    command = [sys.executable, "-S", "-c", IDLE_IN_PYTHON, str(seconds), str(RATE_HZ)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as idle:
        pin(idle.pid, SENDERS_CORE)
        return float(idle.communicate()[0])


def _engine(
    program: Path | None, universes: int, pattern: str, seconds: float, spread: float | None
) -> float:
    # What stands still is quiet by itself: here it is to cost what a moving picture of its kind would.
    every_frame = pattern == "level"
    show = moving(pattern, RATE_HZ)
    return spent_alone(program, universes, show, seconds, spread=spread, every_frame=every_frame)


def _rows(costs: Costs) -> list[list[str]]:
    def cost(name: str, universes: int) -> float:
        return median(costs[name, universes])

    names = list(dict.fromkeys(name for name, _ in costs))
    rows = [[name, *(f"{cost(name, each):.2f}" for each in UNIVERSES)] for name in names]
    for above, below, wanted in RATIOS:
        if above in names and below in names:
            ratios = [f"{cost(above, each) / cost(below, each):.2f}" for each in UNIVERSES]
            rows.append([f"{above} / {below}  {wanted}".rstrip(), *ratios])
    return rows


def main() -> None:
    """Measure, and print a table or JSON."""
    costs = measured(asked_seconds(quick_s=1.0, whole_s=4.0))
    plain = [{"name": name, "universes": each, "us": found} for (name, each), found in costs.items()]
    heads = ["us a universe-frame", *(f"{each} universes" for each in UNIVERSES)]
    print_found(plain, heads, _rows(costs))


if __name__ == "__main__":
    main()
