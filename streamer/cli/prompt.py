"""A person at a prompt: one question, numbered answers, plain text that fits 40 columns."""

import shutil
import textwrap
from collections.abc import Iterable

from streamer.cli.common import say
from streamer.cli.keys import Keys
from streamer.display.model import Display
from streamer.display.places import plain
from streamer.find.asking import question_of, shown_words
from streamer.find.finding import Finding
from streamer.find.rounds import summary
from streamer.find.verdict import Verdict, certainty_text
from streamer.find.why import why

WIDEST = 76
NARROWEST = 30
PERCENT = 100
YES_WORDS = frozenset({"y", "yes"})
KEYS = "u undo   w why   q end"


class Prompt:
    """Asks on standard output, and reads from standard input."""

    def __init__(self, keys: Keys, *, is_round: bool = False) -> None:
        self._keys = keys
        self._is_round = is_round
        self._width = max(NARROWEST, min(WIDEST, shutil.get_terminal_size().columns - 1))

    def begin(self, port: str, number: int, total: int) -> None:
        """Say which port comes now."""
        say("")
        self._tell([f"Port {number} of {total}: {plain(port)}"])

    def ask(self, finding: Finding) -> str | int | None:
        """Show the look and return what is answered: a number, "undo", or None to end."""
        self._show(finding)
        while True:
            say("Your answer, then Enter:")
            line = self._keys.line()
            line = line and line.strip()
            if line is None or line.lower() in ("q", "quit", "end"):
                return None
            if line.lower() in ("u", "undo"):
                if finding.steps:
                    return "undo"
                say("There is no answer to take back.")
            elif self._is_round and line.lower() in ("s", "skip"):
                return "skip"
            elif line.lower() in ("w", "why"):
                self._tell(why(finding))
            elif line in (keys := [str(int(each.answer)) for each in finding.choices]):
                return int(line)
            else:
                self._tell([f"Give one of {', '.join(keys)}; or {self._keys_told}."])

    def _show(self, finding: Finding) -> None:
        say("")
        say(f"Look {len(finding.steps) + 1}. Known so far: {finding.progress * PERCENT:.0f} %")
        self._tell([shown_words(finding), "", question_of(finding)])
        for choice in finding.choices:
            say(f"  {int(choice.answer)}  {choice.words}")
        say(f"  {self._keys_told}")

    @property
    def _keys_told(self) -> str:
        return f"s skip   {KEYS}" if self._is_round else KEYS

    def goes_on(self, port: str) -> str | None:
        """Ask whether to go on to this port."""
        while True:
            say("")
            self._tell([f"Enter goes on with {plain(port)}; u takes the last answer back; q ends."])
            line = self._keys.line()
            wish = None if line is None else line.strip().lower()
            if wish is None or wish in ("q", "quit", "end"):
                return None
            if wish in ("u", "undo"):
                return "undo"
            if not wish:
                return ""

    def sum_up(self, display: Display, verdicts: dict[str, Verdict | None]) -> None:
        """Tell how many ports stand how, and which are not as planned."""
        say("")
        first, *others = summary(display, verdicts)
        self._tell([first])
        self._tell((f"- {each}" for each in others), hang=2)

    def close(self, finding: Finding, verdict: Verdict) -> None:
        """Tell the verdict, what to check, and what else it may be."""
        say("")
        sure = certainty_text(verdict.certainty)
        looks = len(finding.steps)
        say(f"After {looks} {'look' if looks == 1 else 'looks'}, {sure} sure:")
        self._tell([verdict.sentence if finding.steps else "Nothing was answered, so nothing is known."])
        if finding.steps:
            say("Do this, in this order:" if not verdict.is_healthy else "Bear in mind:")
            for number, check in enumerate(verdict.checks, 1):
                self._tell([f"{number}. {check}"], hang=3)
        if verdict.remains and finding.steps:
            say("It may also be:")
            for each in verdict.remains:
                how = "looks the same" if each.looks_the_same else certainty_text(each.share)
                self._tell([f"- {each.sentence} ({how})"], hang=2)

    def agrees(self, question: str) -> bool:
        """Ask whether something is to be done."""
        self._tell([f"{question} [y/n]"])
        return (self._keys.line() or "").strip().lower() in YES_WORDS

    def _tell(self, lines: Iterable[str], hang: int = 0) -> None:
        for line in lines:
            say(textwrap.fill(line, self._width, subsequent_indent=" " * hang))
