"""How long choosing a look takes, by the length of the string: `python -m tests.find.bench`.

And with `--draws N` how many looks each kind of fault takes, truthfully answered and with wrong answers.
"""

import argparse
import os
import statistics
import time

from streamer.find.answers import Answer
from streamer.find.finding import Bench, Finding
from tests.find.conftest import one_string
from tests.find.trial import trial

LENGTHS = (50, 100, 170, 340, 680, 1000)
ROUNDS = 5
MS = 1000


class Stopwatch:
    """Measures by the clock, and the processor time of this process: others may be busy on this machine."""

    def __init__(self) -> None:
        self.start()

    def start(self) -> None:
        """Begin anew."""
        self._began_s, self._busy_s = time.perf_counter(), time.process_time()

    @property
    def ms(self) -> tuple[float, float]:
        """By the clock, and of the processor."""
        return (time.perf_counter() - self._began_s) * MS, (time.process_time() - self._busy_s) * MS


def chosen_in_ms(nodes: int) -> tuple[int, float, list[tuple[float, float]]]:
    """Return hypotheses, what thinking of them takes, and what choosing each look of a search takes."""
    display, watch = one_string(nodes), Stopwatch()
    bench = Bench(display, "jetty/1")
    thought_ms = watch.ms[0]
    times = []
    for round_ in range(ROUNDS):
        bench.known.clear()
        watch.start()
        finding = Finding(bench)
        while finding.look:
            times.append(watch.ms)
            # Doubtful answers keep many hypotheses alive: the slowest there is.
            answers = [Answer.GREEN, Answer.NONE, Answer.CANT_TELL]
            given = answers[(round_ + len(finding.steps)) % len(answers)]
            given = given if given in [each.answer for each in finding.choices] else Answer.CANT_TELL
            watch.start()
            finding.answer(given)
    return len(bench.table), thought_ms, times


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=0)
    parser.add_argument("--wrong", type=float, default=0.0)
    asked = parser.parse_args()
    print(f"Load before: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores. Choosing a look, in ms:")
    print(" nodes  hypotheses  thinking ms  median     max   of the processor: median     max")
    for nodes in LENGTHS:
        hypotheses, thought_ms, times = chosen_in_ms(nodes)
        clock, busy = zip(*times, strict=True)
        print(
            f"{nodes:6} {hypotheses:11} {thought_ms:12.0f} {statistics.median(clock):7.0f} {max(clock):7.0f}"
            f" {statistics.median(busy):25.0f} {max(busy):7.0f}"
        )
    if asked.draws:
        found = trial(asked.draws, seed=1, wrong=asked.wrong)
        print(f"{found.table()}\n{found.calibration()}")


if __name__ == "__main__":
    main()
