"""Says what is wrong with a text that is no TOML: in our words, with the line and what to write instead."""

import re

import tomlkit
from tomlkit import exceptions as toml
from tomlkit.exceptions import ParseError, TOMLKitError

from streamer.display.places import plain, shown
from streamer.errors import Problem

SEARCHED_OCTETS = 32 * 1024
"""Of a longer text a line that the parser does not tell is not searched for: ten times more work."""
Unreadable = (TOMLKitError, ValueError, RecursionError)
"""What tomlkit raises for a text that it cannot read."""

HELP = 'Put text in double quotes, lists in [ ], and each key on its own line: name = "Boathouse"'
TWICE = "A key or a table may stand only once: take out one of the two, or rename it"
NUMBER = "a number is written wrong", "Write it plainly: 72, -3 or 0.5; anything else goes in double quotes"
MOMENT = "a date or a time is written wrong", "No key here takes one: put text in double quotes"
CHARACTER = (
    "a text holds a character that cannot stand there",
    "Write two backslashes (\\\\) where one is meant",
)
TOO_EARLY = (
    "a line, or the file, ends too early",
    f"Close what was opened: a quote, a bracket or a brace. {HELP}",
)
TOO_DEEP = "brackets or braces stand too deep in each other", f"Take some out. {HELP}"
UNSEEN = "a character that cannot be seen stands there", "Delete the line and type it anew"
UNKNOWN = "it cannot be read", HELP
KINDS: tuple[tuple[type[Exception], tuple[str, str]], ...] = (
    (toml.EmptyKeyError, ("no key stands before the equals sign", HELP)),
    (toml.EmptyTableNameError, ("the brackets name nothing", "Write a name between them: [[controllers]]")),
    (toml.MixedArrayTypesError, ("a list holds different kinds of things", HELP)),
    (toml.InvalidNumberError, NUMBER),
    (toml.InvalidNumberOrDateError, NUMBER),
    (toml.InvalidDateTimeError, MOMENT),
    (toml.InvalidDateError, MOMENT),
    (toml.InvalidTimeError, MOMENT),
    (toml.InvalidUnicodeValueError, CHARACTER),
    (toml.InvalidCharInStringError, CHARACTER),
    (toml.InvalidControlChar, UNSEEN),
    (toml.UnexpectedEofError, TOO_EARLY),
    (RecursionError, TOO_DEEP),
)
SAID = (
    ("nested more than", TOO_DEEP),
    ("Redefinition", ("a table stands twice", TWICE)),
    ("Invalid key", ("a key is written wrong", f"Write keys without spaces. {HELP}")),
)
"""What has no kind of its own, by a piece of what the parser says."""
_ALREADY = re.compile(r'Key "(.*)" already exists', re.DOTALL)
_CHARACTER = re.compile(r"Unexpected character: ['\"](.*)['\"] at line", re.DOTALL)
ENDS = {r"\x00", r"\n", r"\r", ""}
"""What the parser meets where a text or a line is over."""


def syntax_problem(name: str, text: str, error: Exception) -> Problem:
    """Return what is wrong with the text of a file called `name`, which tomlkit refused with `error`."""
    what, instead = _words(error)
    if isinstance(error, ParseError):
        line, column = _toml_line(text, error.line), error.col + 1
    else:
        line, column = _line_of(text), 0
    place = f"{name}:{line}" if line else name
    return Problem(place, f"this is not TOML: {what}, at or just before this line", instead, line, column)


def _toml_line(text: str, line: int) -> int:
    """Return which line of TOML, which ends them by LF alone, it is of those that `str.splitlines` counts."""
    return 1 + "".join(text.splitlines(keepends=True)[: line - 1]).count("\n")


def _words(error: Exception) -> tuple[str, str]:
    """Return what is wrong, and what to write instead. What the parser says is read, and never passed on."""
    said = str(error)
    if twice := _ALREADY.search(said):
        return f"{plain(shown(twice[1]))} stands twice", TWICE
    if character := _CHARACTER.search(said):
        found = character[1]
        return TOO_EARLY if found in ENDS else (f"{plain(shown(found))} cannot stand there", HELP)
    for kind, words in KINDS:
        if isinstance(error, kind):
            return words
    return next((words for piece, words in SAID if piece in said), UNKNOWN)


def _line_of(text: str) -> int:
    """Return the line, from 1, with which the text becomes unreadable; 0 where that would take too long."""
    if len(text) > SEARCHED_OCTETS:
        return 0
    lines = [f"{line}\n" for line in text.split("\n")]
    good, bad = 0, len(lines)
    while bad - good > 1:
        middle = (good + bad) // 2
        if _is_refused_without_line("".join(lines[:middle])):
            bad = middle
        else:
            good = middle
    return bad


def _is_refused_without_line(text: str) -> bool:
    try:
        tomlkit.parse(text)
    except ParseError:
        # It was cut in the middle of something.
        return False
    except Unreadable:
        return True
    return False
