"""How long choosing a look takes, by the length of the string: `python -m tests.find.bench`.

And with `--draws N` how many looks each kind of fault takes, truthfully answered and with wrong answers.
"""

import argparse
import statistics
import time

from streamer.find.answers import Answer
from streamer.find.finding import Bench, Finding
from tests.find.conftest import one_string
from tests.find.trial import trial

LENGTHS = (50, 100, 170, 340, 680, 1000)
ROUNDS = 5
MS = 1000


def chosen_in_ms(nodes: int) -> tuple[int, float, list[float]]:
    """Return hypotheses, what thinking of them takes, and what choosing each look of a search takes."""
    display = one_string(nodes)
    began_s = time.perf_counter()
    bench = Bench(display, "jetty/1")
    thought_ms = (time.perf_counter() - began_s) * MS
    times = []
    for round_ in range(ROUNDS):
        bench.known.clear()
        began_s = time.perf_counter()
        finding = Finding(bench)
        while finding.look:
            times.append((time.perf_counter() - began_s) * MS)
            # Doubtful answers keep many hypotheses alive: the slowest there is.
            answers = [Answer.GREEN, Answer.NONE, Answer.CANT_TELL]
            given = answers[(round_ + len(finding.steps)) % len(answers)]
            given = given if given in [each.answer for each in finding.choices] else Answer.CANT_TELL
            began_s = time.perf_counter()
            finding.answer(given)
    return len(bench.table), thought_ms, times


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=0)
    parser.add_argument("--wrong", type=float, default=0.0)
    asked = parser.parse_args()
    print(" nodes  hypotheses  thinking ms  choosing ms: median     max")
    for nodes in LENGTHS:
        hypotheses, thought_ms, times = chosen_in_ms(nodes)
        print(
            f"{nodes:6} {hypotheses:11} {thought_ms:12.0f} {statistics.median(times):20.0f} {max(times):7.0f}"
        )
    if asked.draws:
        found = trial(asked.draws, seed=1, wrong=asked.wrong)
        print(f"{found.table()}\n{found.calibration()}")


if __name__ == "__main__":
    main()
