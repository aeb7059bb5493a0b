"""Two things on a command line that were written the other way round: which way is right."""

import shlex
from pathlib import Path

from streamer.display.places import plain
from streamer.errors import PlanError, Problem

DISPLAY_SUFFIX = ".toml"


def check_pattern_then_file(pattern: str, file: Path | None) -> None:
    """Raise PlanError where a display file stands in the place of the pattern."""
    # Loads NumPy, which the list of commands need not wait for.
    from patterns.registry import all_patterns

    names = [each.name for each in all_patterns()]
    is_file = _is_display(Path(pattern)) or _is_file(Path(pattern))
    if pattern in names or not (is_file or str(file) in names):
        return
    first = str(file) if str(file) in names else "PATTERN"
    what = "the pattern comes first, then the display file"
    _refuse(
        "send", what, f"Write: ropewalk send {first} {_quoted(pattern)}. The patterns: {', '.join(names)}"
    )


def check_capture_then_file(capture: Path, file: Path | None) -> None:
    """Raise PlanError where a display file stands in the place of the capture."""
    if not _is_display(capture) or (file is not None and _is_display(file)):
        return
    first = "CAPTURE" if file is None else _quoted(str(file))
    what = "the capture to be written comes first, then the display file"
    _refuse("record", what, f"Write: ropewalk record {first} {_quoted(str(capture))}")


def check_port_then_words(option: str, port: str, words: str, ports: list[str], sign: str = " ") -> None:
    """Raise PlanError where a port stands in the place of what is said of it."""
    if port not in ports and words in ports:
        what = "the port comes first, then what is said of it"
        _refuse(option, what, f"Write: {option} {_quoted(words)}{sign}{_quoted(port)}")


def _is_display(path: Path) -> bool:
    return path.suffix == DISPLAY_SUFFIX


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except OSError:
        # No file has a name so long.
        return False


def _quoted(text: str) -> str:
    """Return it as it can be typed to a shell: it may come from a file of anybody's."""
    return shlex.quote(plain(text))


def _refuse(place: str, what: str, instead: str) -> None:
    raise PlanError([Problem(place, what, instead)])
