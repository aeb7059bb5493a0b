"""What a whole engine costs, for each frame of a universe: from the pattern to the network, status and all.

`python -m tests.bench.all_in [--quick] [--seconds N] [--json]`. A real engine process plays to a reader at 40
frames a second, as it does by default and each frame at once; beside it, in the same rounds, C programs that
only send, and two libraries. Loopback only; four minutes, or half of one. Ratios hold, absolute times do not.
"""

import tempfile
import time
from collections import defaultdict
from pathlib import Path
from statistics import median

from tests.bench.engines import Spent, moving, own_folders, spent
from tests.bench.measuring import IS_QUICK, asked_seconds, compiled, print_found
from tests.bench.wire import Bench, Case

UNIVERSES = (10, 1000)
RATE_HZ = 40
PATTERNS = ("walk", "ramp", "sweep", "level")
BESIDE = ("C sendto", "C offload", "stupidArtnet", "sacn")
ROUNDS = 1 if IS_QUICK else 3
RATIOS = (
    ("walk", "idle loop and C sendto", "at most 1.3 at 10"),
    ("walk at once", "idle loop and C sendto", "at most 1.3 at 10"),
    ("walk", "C sendto", ""),
    ("walk", "C offload", ""),
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
                costs["idle loop", universes].append(_idle_us(seconds) / universes)
                for name in beside:
                    cost = Bench(seconds, program).measure(Case(name, universes, RATE_HZ))
                    costs[name, universes].append(cost.cpu_us)
                if program:
                    both = costs["idle loop", universes][-1] + costs["C sendto", universes][-1]
                    costs["idle loop and C sendto", universes].append(both)
    return costs


def _idle_us(seconds: float) -> float:
    """Return what waking for a frame costs by itself, in Python."""
    began_s, used_s, frames = time.monotonic(), time.process_time(), int(seconds * RATE_HZ)
    for frame in range(1, frames + 1):
        time.sleep(max(0.0, began_s + frame / RATE_HZ - time.monotonic()))
    return (time.process_time() - used_s) / frames * 1e6


def _engine(
    program: Path | None, universes: int, pattern: str, seconds: float, spread: float | None
) -> float:
    # What stands still is quiet by itself: here it is to cost what a moving picture of its kind would.
    every_frame = pattern == "level"
    found: Spent = spent(
        program, universes, moving(pattern, RATE_HZ), seconds, spread=spread, every_frame=every_frame
    )
    return found.us_a_packet


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
    costs = measured(asked_seconds(quick_s=0.5, whole_s=2.0))
    plain = [{"name": name, "universes": each, "us": found} for (name, each), found in costs.items()]
    heads = ["us a universe-frame", *(f"{each} universes" for each in UNIVERSES)]
    print_found(plain, heads, _rows(costs))


if __name__ == "__main__":
    main()
