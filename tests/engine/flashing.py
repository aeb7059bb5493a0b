"""A slow counter of flashes, written on its own from the definition of WCAG 2.x success criterion 2.3.1."""

from collections.abc import Iterable

SECOND_S = 1.0


def flashes(values: Iterable[tuple[float, float]], tenth: float) -> list[float]:
    """Return when a value has risen by `tenth` after it had fallen by as much; dark before the first."""
    found, is_up, turning = [], False, 0.0
    for at_s, value in values:
        if is_up and turning - value >= tenth:
            is_up, turning = False, value
        elif not is_up and value - turning >= tenth:
            is_up, turning = True, value
            found.append(at_s)
        turning = max(turning, value) if is_up else min(turning, value)
    return found


def most_in_a_second(at_s: list[float]) -> int:
    """Return the largest number of flashes in any sliding second."""
    return max((sum(first <= other < first + SECOND_S - 1e-9 for other in at_s) for first in at_s), default=0)
