"""Units of systemd for an unattended run: text to be read, put in place and switched on by the operator."""

import re
import stat
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined

from streamer.display.places import plain
from streamer.errors import PlanError, Problem
from streamer.soak.durations import parse_moment
from streamer.soak.journal import journal_path

CHECK_WORDS = "10m"
CHECK_BEFORE_SHOW = "16:30"
"""Dusk in December at middle latitudes: there is time to mend something."""
UNSAFE = re.compile(r"[^ -~]")
"""What is no printable ASCII: units are plain text, and a line break in one would begin another setting."""


@dataclass(frozen=True, slots=True)
class Service:
    """What the units are to run."""

    file: Path
    options: tuple[str, ...]
    """Of `ropewalk soak`, without how long."""
    until: str = "06:00"
    check_at: str = CHECK_BEFORE_SHOW

    def units(self) -> str:
        """Return the units with instructions; PlanError for what no unit can hold."""
        file = self.file.resolve()
        command = Path(sys.argv[0]).resolve().with_name("ropewalk")
        for each in (str(file), str(command), *self.options):
            _check(each)
        parse_moment(self.until, "--until")
        parse_moment(self.check_at, "--service")
        environment = Environment(
            loader=PackageLoader("streamer.cli", "units"),
            undefined=StrictUndefined,
            keep_trailing_newline=True,
            trim_blocks=True,
            autoescape=False,  # noqa: S701  no markup: `quoted` is the escaping that units need
        )
        environment.filters["quoted"] = quoted
        return environment.get_template("soak.txt.j2").render(
            command=str(command),
            file=str(file),
            folder=str(file.parent),
            journal=str(journal_path(file)),
            name=plain(file.stem).replace("%", "%%"),
            options=self.options,
            until=self.until,
            check_at=self.check_at,
            check_for=CHECK_WORDS,
            closed=[str(each) for each in closed_to_others(Path(command), Path(sys.executable), file)],
        )


def closed_to_others(*files: Path) -> Iterator[Path]:
    """Yield the folders on the way to these files, links followed, that another user may not go through."""
    folders = {
        folder for file in files for each in (file, file.resolve()) for folder in each.absolute().parents
    }
    for folder in sorted(folders):
        if folder.exists() and not folder.stat().st_mode & stat.S_IXOTH:
            yield folder


def quoted(text: str) -> str:
    """Return text as one word of a unit's command line: systemd.service(5), "Command lines"."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%").replace("$", "$$")
    return f'"{escaped}"' if re.search(r"[^\w./:,+-]", text) else escaped


def _check(text: str) -> None:
    if UNSAFE.search(text):
        what = f"{plain(text)[:80]!r} holds a character that a unit cannot"
        raise PlanError([Problem("--service", what, "Use a path of plain letters, digits and signs")])
