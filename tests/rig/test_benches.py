"""The benches run, each in its quick form, and say what they are for. How fast is not asked here."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

pytestmark = [
    pytest.mark.long,
    pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the benches need Linux"),
]

ROOT = Path(__file__).parents[2]
LIMIT_S = 180


def found_by(bench: str) -> Any:  # noqa: ANN401  whatever JSON holds
    """Run a bench as DEVELOPERS.md says, and return what it prints as JSON."""
    command = [sys.executable, "-m", f"tests.bench.{bench}", "--quick", "--json"]
    done = subprocess.run(command, check=False, capture_output=True, text=True, timeout=LIMIT_S, cwd=ROOT)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.mark.parametrize("bench", ["wire", "all_in", "growth", "stages"])
def test_a_bench_measures_something_for_every_row(bench: str):
    """No row is empty, and nothing was free."""
    rows = found_by(bench)
    assert len(rows) >= 9
    for row in rows:
        costs = [each["cpu_us"] for each in row["costs"]] if bench == "wire" else row["us"]
        assert all(cost > 0 for cost in (costs.values() if isinstance(costs, dict) else costs)), row


def test_the_limits_and_the_flash_guard_take_less_than_a_tenth_of_a_frame():
    """Each, of 1,000 universes at 40 Hz: 2.5 ms. They take a fifth of that on an idle machine."""
    for row in found_by("stages"):
        assert max(row["us"]["currents"], row["us"]["flash guard"]) < 2500


def test_no_frame_is_skipped_while_the_screen_redraws():
    """The screen has its own process: it may draw as much as it likes."""
    found = found_by("lateness")
    assert found["counts"]["frames"] > 150
    assert found["counts"]["skipped"] == 0
    assert found["drawn_octets_a_second"] > 10_000
