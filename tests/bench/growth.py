"""How an engine's cost grows: from 1 to 4,000 universes, and from 1 to 44 frames a second.

`python -m tests.bench.growth [--quick] [--seconds N] [--json]`. A real engine process plays the walk, as it
does by default, to a reader on loopback; a minute and a half, or half a minute. Ratios hold, absolute times
do not.
"""

import tempfile
from pathlib import Path
from statistics import median
from typing import NamedTuple

from tests.bench.engines import Spent, moving, own_folders, spent
from tests.bench.measuring import IS_QUICK, asked_seconds, compiled, print_found

ROUNDS = 1 if IS_QUICK else 3
PATTERN = "walk"


class Size(NamedTuple):
    """How much is played."""

    universes: int
    rate_hz: int


SIZES = (
    *(Size(universes, 40) for universes in (1, 10, 100, 1000, 4000)),
    *(Size(1000, rate_hz) for rate_hz in (1, 10, 20, 44)),
)


def measured(seconds: float) -> dict[Size, list[Spent]]:
    """Measure every size once in each round."""
    found: dict[Size, list[Spent]] = {size: [] for size in SIZES}
    with tempfile.TemporaryDirectory() as folder, own_folders():
        program = compiled(Path(folder))
        for _ in range(ROUNDS):
            for size in SIZES:
                # Two frames at the least.
                long_s = max(seconds, 2 / size.rate_hz)
                found[size].append(spent(program, size.universes, moving(PATTERN, size.rate_hz), long_s))
    return found


def _row(size: Size, rounds: list[Spent]) -> list[str]:
    return [
        str(size.universes),
        str(size.rate_hz),
        f"{median(each.us_a_packet for each in rounds):.2f}",
        f"{median(each.cpu_s / each.seconds for each in rounds):.1%}",
        str(sum(each.skipped for each in rounds)),
        f"{sum(each.sent - each.heard for each in rounds)} of {sum(each.sent for each in rounds)}",
    ]


def main() -> None:
    """Measure, and print a table or JSON."""
    found = measured(asked_seconds(quick_s=0.5, whole_s=2.0))
    plain = [size._asdict() | {"us": [each.us_a_packet for each in rounds]} for size, rounds in found.items()]
    heads = ["universes", "frames a second", "us a universe-frame", "of a core", "skipped", "unheard"]
    print_found(plain, heads, [_row(*each) for each in found.items()])


if __name__ == "__main__":
    main()
