"""Reads a display file. Everything wrong with it is told at once, each with its line and what to write.

The file may be hostile: it is bounded before it is parsed, and whatever it holds ends as a `Display` or
as a `FileError`.
"""

import stat
from pathlib import Path

import tomlkit

from streamer.display.model import Display
from streamer.display.places import plain
from streamer.display.positions import Places
from streamer.display.reader import Reader
from streamer.display.syntax import Unreadable, syntax_problem
from streamer.errors import FileError, Problem

FILE_LIMIT_OCTETS = 512 * 1024
"""Some 3,000 ports written out in full; the most hostile text of this length parses in some 15 s."""
NEW_FILE = "Start from a file made by 'ropewalk new FILE'"


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
    except Unreadable as error:
        raise FileError([syntax_problem(name, text, error)]) from error
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
