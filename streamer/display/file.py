"""Reads a display file. Everything wrong with it is told at once, each with its line and what to write.

The file may be hostile: it is bounded before it is parsed, and whatever it holds ends as a `Display` or
as a `FileError`.
"""

import stat
from pathlib import Path

import tomlkit
from tomlkit.exceptions import ParseError, TOMLKitError

from streamer.display.model import Display
from streamer.display.places import plain
from streamer.display.positions import Places
from streamer.display.reader import Reader
from streamer.errors import FileError, Problem

FILE_LIMIT_OCTETS = 512 * 1024
"""Some 3,000 ports written out in full; the most hostile text of this length parses in some 15 s."""
TWICE_HELP = "A key or a table may stand only once: take out one of the two, or rename it"
NEW_FILE = "Start from a file made by 'ropewalk new FILE'"
TOML_HELP = 'Put text in double quotes, lists in [ ], and each key on its own line: name = "Boathouse"'


def load(path: Path) -> Display:
    """Read and check a display file. Raises `FileError`."""
    name = plain(str(path))
    octets = _octets_of(path, name)
    if len(octets) > FILE_LIMIT_OCTETS:
        raise FileError([_too_long(name)])
    try:
        text = octets.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileError([_not_utf8(name, octets, error.start)]) from error
    return parse(text, name)


def parse(text: str, name: str) -> Display:
    """Read and check the text of a display file called `name`. Raises `FileError`."""
    name = plain(name)
    try:
        octets = text.encode()
    except UnicodeEncodeError as error:
        raise FileError([Problem(name, "it holds characters that UTF-8 cannot write", NEW_FILE)]) from error
    if len(octets) > FILE_LIMIT_OCTETS:
        raise FileError([_too_long(name)])
    try:
        data = tomlkit.parse(text).unwrap()
    except ParseError as error:
        raise FileError([_syntax(name, error)]) from error
    except (TOMLKitError, ValueError, RecursionError) as error:
        raise FileError([Problem(name, f"this is not TOML: {plain(str(error))[:200]}", TOML_HELP)]) from error
    return Reader(data, Places(text, name, data)).display()


def _octets_of(path: Path, name: str) -> bytes:
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            what = "this is a folder" if path.is_dir() else "this is not a file"
            raise FileError([Problem(name, what, "Give the name of a display file")])
        with path.open("rb") as file:
            return file.read(FILE_LIMIT_OCTETS + 1)
    except FileNotFoundError as error:
        instead = f"Check the name, or make a new file: ropewalk new {name}"
        raise FileError([Problem(name, "there is no such file", instead)]) from error
    except PermissionError as error:
        instead = f"Give yourself the right to read it: chmod u+r {name}, or ask whoever owns it"
        raise FileError([Problem(name, "you may not read this file", instead)]) from error
    except (OSError, ValueError) as error:
        what = f"the file cannot be read ({plain(getattr(error, 'strerror', None) or str(error))})"
        raise FileError([Problem(name, what, "Copy it to another disk and try again")]) from error


def _too_long(name: str) -> Problem:
    what = f"the file is longer than {FILE_LIMIT_OCTETS // 1024} KiB"
    return Problem(name, what, "Split the display into several files, one for each controller")


def _not_utf8(name: str, octets: bytes, start: int) -> Problem:
    line = octets.count(b"\n", 0, start) + 1
    what = f"the file is not UTF-8 text (octet {start} is 0x{octets[start]:02X})"
    return Problem(f"{name}:{line}", what, "Save it again with the encoding set to UTF-8", line)


def _syntax(name: str, error: ParseError) -> Problem:
    said = plain(str(error).rsplit(" at line", 1)[0]).rstrip(".")
    what = f"this is not TOML: {said}, at or just before this line"
    instead = TWICE_HELP if "already exists" in said else TOML_HELP
    return Problem(f"{name}:{error.line}", what, instead, error.line, error.col + 1)
