"""Whether the clock on the wall was set, and whether this machine slept. Clocks are told, not read."""

from collections.abc import Iterable

from streamer.soak.durations import in_words
from streamer.soak.findings import Finding, Quiet
from streamer.soak.records import EventKind, Moment, Severity

STEP_S = 1.0
"""A clock that is corrected in slow motion (adjtime(3)) gains or loses less than this between two looks."""
ASLEEP_S = 2.5
"""As long as a stop of the stream that is told: whether frames went on meanwhile, its own watch says."""


class ClockWatch(Quiet):
    """Compares the clock on the wall with one that is never set."""

    name = "the clock"

    def __init__(self) -> None:
        self._ahead_s: float | None = None
        self._news: list[Finding] = []

    def compare(self, at: Moment) -> float:
        """Compare the two clocks, and return by how much the one on the wall has been set since last time."""
        ahead_s = at.unix_s - at.run_s
        step_s = 0.0 if self._ahead_s is None else ahead_s - self._ahead_s
        self._ahead_s = ahead_s
        if abs(step_s) < STEP_S:
            return 0.0
        way = "forwards" if step_s > 0 else "backwards"
        words = f"it was set {way} by {in_words(abs(step_s))}; the stream does not go by it"
        self._news.append(Finding(EventKind.CLOCK_STEPPED, "", words, Severity.REMARK))
        return step_s

    def waited(self, asked_s: float, before: Moment, after: Moment) -> None:
        """Take note of a wait that was to take `asked_s` at the most."""
        passed_s = after.run_s - before.run_s
        if passed_s - asked_s >= ASLEEP_S:
            words = f"nothing ran for {in_words(passed_s)}: the machine slept, or the run was held"
            self._news.append(Finding(EventKind.ASLEEP, "", words, Severity.REMARK, ago_s=passed_s))

    def news(self) -> Iterable[Finding]:
        """Return what has happened since this was asked last."""
        news, self._news = self._news, []
        return news
