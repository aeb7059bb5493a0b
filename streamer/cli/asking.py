"""How a walk asks: by a prompt, a key an answer; or in JSON lines, with another program as the eyes."""

import json
import shutil
from pathlib import Path
from textwrap import fill
from typing import Any, Protocol

from streamer.cli.common import say, say_json
from streamer.cli.keys import Keys
from streamer.display.places import plain
from streamer.errors import RopewalkError
from streamer.logbook.records import Entry, Kind, Sort, Subject, Verdict
from streamer.prove.checks import Check
from streamer.prove.walk import Proof, Walk

SKIP, UNDO, LEAVE = "s", "u", "q"
CONTROLS = {SKIP: "leave it out for now", UNDO: "undo", LEAVE: "leave"}
INDENT = "  "
KEY_GAP = "   "
NARROWEST = 20


class Asker(Protocol):
    """Who is asked."""

    def ask(self, check: Check, walk: Walk) -> str | None:
        """Return a key: of an answer, or one of CONTROLS; None when there will be none."""

    def note(self, entry: Entry) -> None:
        """Say what has been written in the logbook."""

    def refuse(self, error: RopewalkError) -> None:
        """Say why an answer cannot be taken."""

    def close(self, walk: Walk) -> None:
        """Say how everything stands."""


def target(file: Path, to: str | None) -> str:
    """Return what a command line says of where this walk went, so that the next one goes there too."""
    return plain(str(file)) + (f" --to {plain(to)}" if to else "")


def find_command(target: str, subject: Subject) -> str:
    """Return what to do about a string that is at fault."""
    return f"ropewalk find {target} --port {plain(subject.name)}"


class Prompt:
    """Asks a person."""

    def __init__(self, keys: Keys, target: str) -> None:
        self._keys = keys
        self._target = target
        self._last: Subject | None = None

    def ask(self, check: Check, walk: Walk) -> str | None:
        """Print the question, and return the next key."""
        self._keys.discard()
        number, total = walk.position
        if check.subject != self._last:
            self._last = check.subject
            say("")
            say_folded(_title(check))
        say(f"\n{number} of {total}  {check.name}")
        say_folded(check.question, INDENT, INDENT)
        for answer in check.answers:
            say_folded(f"{answer.key}  {answer.text}", INDENT * 2, INDENT * 2 + KEY_GAP)
        say_folded("   ".join(f"{key}  {words}" for key, words in CONTROLS.items()), INDENT * 2, INDENT * 2)
        key = self._keys.key() if self._keys.is_terminal else self._keys.line()
        return None if key is None else key.strip().lower()

    def note(self, entry: Entry) -> None:
        """Print it."""
        if entry.kind is Kind.UNDONE:
            say("  Undone.")
        elif entry.kind is Kind.SKIPPED:
            say("  Left out for now.")
        else:
            settled = {Verdict.PROVEN: " Proven.", Verdict.FAULT: " At fault."}
            say(f"  Noted: {entry.answer}.{settled[entry.verdict] if entry.verdict else ''}")

    def refuse(self, error: RopewalkError) -> None:
        """Print it."""
        say(f"  {error}")

    def close(self, walk: Walk) -> None:
        """Print how many stand how, what is at fault and where to go on."""
        counts = [f"{list(walk.proofs.values()).count(proof)} {proof}" for proof in Proof]
        say("")
        say_folded(f"{', '.join(counts).capitalize()}.")
        for each in walk.remarks:
            say_folded(f"{plain(each.subject.name)}, {each.look}: {each.answer.text if each.answer else ''}.")
        for subject, proof in walk.proofs.items():
            if proof is Proof.AT_FAULT:
                say_folded(f"At fault: {plain(subject.name)}.")
                if subject.sort is Sort.STRING:
                    # Never folded: it is there to be copied.
                    say(f"{INDENT}{find_command(self._target, subject)}")
        if not walk.is_over:
            say(f"To go on where you were: ropewalk prove {self._target}")


def say_folded(text: str, indent: str = "", further: str = INDENT) -> None:
    """Print text in lines that the terminal has room for, without cutting names at their hyphens."""
    width = max(NARROWEST, shutil.get_terminal_size().columns)
    say(fill(text, width, initial_indent=indent, subsequent_indent=further, break_on_hyphens=False))


def _title(check: Check) -> str:
    kind = "Fixture" if check.subject.sort is Sort.FIXTURE else "String"
    label = f", {plain(check.label)}" if check.label else ""
    return f"{kind} {plain(check.subject.name)}{label}"


class JsonLines:
    """Asks another program: a line a look on standard output, a line an answer on standard input."""

    def __init__(self, keys: Keys, target: str, level_percent: float) -> None:
        self._keys = keys
        self._target = target
        self._level_percent = level_percent

    def ask(self, check: Check, walk: Walk) -> str | None:
        """Print the look and return the answer of the next line."""
        number, total = walk.position
        say_json(
            {
                "kind": "look",
                "number": number,
                "of": total,
                **_subject(check.subject),
                "label": check.label,
                "look": check.name,
                "picture": {
                    "pattern": check.look.pattern,
                    "params": dict(check.look.params),
                    "step": check.look.step,
                    "ports": check.look.ports,
                    "level_percent": self._level_percent,
                },
                "question": check.question,
                "answers": {answer.key: answer.text for answer in check.answers},
                "controls": CONTROLS,
            }
        )
        line = self._keys.line()
        return None if line is None else _answer_of(line)

    def note(self, entry: Entry) -> None:
        """Print that it is on the disk."""
        said = {"kind": "noted", "entry": entry.number, "what": entry.kind.value, **_subject(entry.subject)}
        say_json({**said, "look": entry.look, "answer": entry.answer, "verdict": entry.verdict})

    def refuse(self, error: RopewalkError) -> None:
        """Print why."""
        say_json({"kind": "refused", "reason": str(error)})

    def close(self, walk: Walk) -> None:
        """Print the verdict."""
        stand = {
            proof: [subject for subject, each in walk.proofs.items() if each is proof] for proof in Proof
        }
        say_json(
            {
                "kind": "verdict",
                "is_over": walk.is_over,
                **{
                    proof.replace(" ", "_"): [subject.name for subject in those]
                    for proof, those in stand.items()
                },
                "find": [
                    find_command(self._target, each)
                    for each in stand[Proof.AT_FAULT]
                    if each.sort is Sort.STRING
                ],
            }
        )


def _subject(subject: Subject) -> dict[str, str]:
    return {"about": subject.sort.value, "name": subject.name}


def _answer_of(line: str) -> str:
    try:
        said: Any = json.loads(line)
    except (ValueError, RecursionError):
        return line.strip()
    return str(said.get("answer", "")) if isinstance(said, dict) else str(said)
