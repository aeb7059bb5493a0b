"""What `ropewalk scan` does: its options, the scan, and what it prints."""

import shutil
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from streamer.cli.common import complain, counted, say, say_json
from streamer.cli.sent_to import sent_to
from streamer.cli.voice import Voice, voice
from streamer.display.file import load
from streamer.display.model import Display
from streamer.display.places import plain
from streamer.display.starter import write_new
from streamer.ending import ending_signals
from streamer.errors import FileError, PlanError, Problem
from streamer.net.interfaces import find_interface
from streamer.scan.as_data import as_dict
from streamer.scan.comparing import compare
from streamer.scan.found import Found
from streamer.scan.offering import offer
from streamer.scan.telling import Line, comparison_lines, found_lines, wrapped
from streamer.scan.watching import watch
from streamer.scan.wish import SECONDS, Wish, addresses_of


@dataclass(frozen=True, slots=True)
class Asked:
    """The options of the command, checked one by one but not yet together."""

    file: Path | None
    interface: str | None
    seconds: float | None
    to: str | None
    write: Path | None
    as_json: bool

    def display(self) -> Display | None:
        """Return what to compare with; PlanError with what is wrong with the command line or the file."""
        if self.to is not None and self.file is None:
            raise PlanError([Problem("--to", "there is no display FILE to look for", "Name a display file")])
        if self.write is not None and self.write.exists():
            what = "there is already a file of this name, and it is left as it is"
            raise FileError([Problem(plain(str(self.write)), what, "Give another name")])
        display = load(self.file) if self.file else None
        return sent_to(display, (self.to,)) if display and self.to else display


def scan_now(asked: Asked, display: Display | None) -> bool:
    """Scan, print what was found, and say whether that is right. Raises NetworkError and PlanError."""
    interface = find_interface(asked.interface) if asked.interface else None
    wish = Wish(interface, addresses_of(display) if display else ())
    speaker = voice(as_json=asked.as_json)
    found = _found(wish, asked, speaker)
    comparison = compare(display, found) if display else None
    if asked.as_json:
        say_json(as_dict(found, comparison), indent=2)
    else:
        _tell(found_lines(found), speaker)
        if comparison:
            _tell(comparison_lines(comparison), speaker)
    if asked.write is not None:
        write_new(asked.write, offer(found))
        told = f"Written: {plain(str(asked.write))}. Next: ropewalk check {plain(str(asked.write))}"
        (complain if asked.as_json else say)(told)
    if comparison:
        return comparison.is_as_planned
    return bool(found.devices or found.sources)


def _found(wish: Wish, asked: Asked, speaker: Voice) -> Found:
    seconds = SECONDS if asked.seconds is None else asked.seconds
    is_terminal = sys.stdout is not None and sys.stdout.isatty()
    with ending_signals() as has_signal:
        for found in watch(wish, seconds, has_signal):
            if is_terminal:
                left_s = max(0, seconds - found.seconds)
                here = f"{counted(len(found.devices), 'device')}, {counted(len(found.sources), 'source')}"
                speaker.tell_moment(f"{here}; {left_s:.0f} s more")
    return found


def _tell(lines: Iterable[Line], speaker: Voice) -> None:
    columns = shutil.get_terminal_size().columns - 1
    for line in lines:
        speaker.tell(wrapped(line, columns))
