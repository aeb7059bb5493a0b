"""Another program as the eyes: every look as a JSON line out, one answer a line in, the verdict last."""

import json

from streamer.cli.common import say_json
from streamer.cli.keys import Keys
from streamer.display.model import Display
from streamer.find.asking import question_of, sent_codes, shown_words
from streamer.find.finding import Finding
from streamer.find.rounds import outcome_of
from streamer.find.verdict import Verdict
from streamer.find.why import why

FULL = "ff"
NONE = "00"
UNDO, WHY, SKIP = "undo", "why", "skip"


class Program:
    """Speaks JSON lines on standard output, and reads them from standard input."""

    def __init__(self, keys: Keys, *, is_round: bool = False) -> None:
        self._keys = keys
        self._words = (UNDO, WHY, *((SKIP,) if is_round else ()))

    def begin(self, port: str, number: int, total: int) -> None:
        """Say nothing: every look says its port."""

    def ask(self, finding: Finding) -> str | int | None:
        """Say the look and return the answer: a number, "undo", or None at the end of the input."""
        say_json(look_dict(finding))
        while (line := self._keys.line()) is not None:
            given = _given(line)
            if given == WHY:
                say_json({"kind": "why", "lines": why(finding)})
            elif given == UNDO and finding.steps:
                return UNDO
            elif given == SKIP and SKIP in self._words:
                return SKIP
            elif type(given) is int and given in [each.answer for each in finding.choices]:
                return given
            else:
                keys = [int(each.answer) for each in finding.choices]
                *words, last = (f'"{each}"' for each in self._words)
                what = (
                    f'Answer {{"answer": N}} with one of {keys}, {", ".join(words)} or {last}, '
                    "each on a line of its own."
                )
                say_json({"kind": "problem", "problem": what})
        return None

    def close(self, finding: Finding, verdict: Verdict) -> None:
        """Say the verdict."""
        say_json(verdict_dict(finding, verdict))

    def agrees(self, question: str) -> bool:
        """Say that something could be done; a program asks for it with an option."""
        say_json({"kind": "offer", "offer": question})
        return False

    def goes_on(self, port: str) -> str | None:
        """Go on at once: the next look comes by itself."""
        del port
        return ""

    def sum_up(self, display: Display, verdicts: dict[str, Verdict | None]) -> None:
        """Say how every port stands."""
        del display
        say_json({"kind": "summary", "ports": {port: outcome_of(each) for port, each in verdicts.items()}})


def _given(line: str) -> object:
    """Return an answer as it was meant: a number, or a word; None for anything else."""
    try:
        given = json.loads(line)
    except (ValueError, RecursionError):
        return line.strip().lower()
    if isinstance(given, dict):
        return given.get("answer")
    return given


def look_dict(finding: Finding) -> dict[str, object]:
    """Return a look as JSON says it. `nodes` are in hanging order; those past the plan are in `beyond`."""
    port = finding.bench.thinking.port
    look = finding.look
    colours = [_colour(code, len(port.colour_order)) for code in sent_codes(finding).tolist()]
    return {
        "kind": "look",
        "number": len(finding.steps) + 1,
        "port": port.name,
        "asks": look.asks.value if look else "",
        "question": question_of(finding),
        "choices": [{"answer": int(each.answer), "words": each.words} for each in finding.choices],
        "shown": shown_words(finding),
        "nodes": colours[: port.nodes],
        "beyond": colours[port.nodes :],
        "elsewhere": look.picture.elsewhere if look else "",
        "expected": [] if look is None or look.expected is None else look.expected.tolist(),
        "bits": finding.bits,
        "progress": finding.progress,
        "certainty": finding.certainty,
    }


def _colour(code: int, lights: int) -> str:
    return "#" + "".join(FULL if code >> light & 1 else NONE for light in range(lights))


def verdict_dict(finding: Finding, verdict: Verdict) -> dict[str, object]:
    """Return the verdict as JSON says it."""
    return {
        "kind": "verdict",
        "port": finding.bench.thinking.port.name,
        "looks": len(finding.steps),
        "fault": verdict.row.kind.value,
        "sentence": verdict.sentence,
        "certainty": verdict.certainty,
        "is_certain": verdict.is_certain,
        "nodes": verdict.row.hung,
        "checks": list(verdict.checks),
        "remains": [
            {"sentence": each.sentence, "share": each.share, "looks_the_same": each.looks_the_same}
            for each in verdict.remains
        ],
    }
