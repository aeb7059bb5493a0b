"""Numbers as a person writes them: "1-12, 20"."""

from collections.abc import Sequence

RUNS_MAX = 12


def runs_text(numbers: Sequence[int]) -> str:
    """Return ascending numbers as runs; the end is left out where there are very many."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    listed = [f"{first}" if first == last else f"{first}-{last}" for first, last in runs[:RUNS_MAX]]
    return ", ".join(listed) + (", ..." if len(runs) > RUNS_MAX else "")
