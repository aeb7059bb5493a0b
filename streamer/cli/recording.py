"""What `ropewalk record` does: listens, keeps, and says what was kept."""

import sys
from importlib.metadata import version
from pathlib import Path

import click

from streamer.capture.heard import datagrams
from streamer.capture.writing import CaptureWriter
from streamer.cli.common import complain, counted, say, say_json
from streamer.display.model import Protocol
from streamer.hear.ears import PORTS
from streamer.hear.messages import Heard
from streamer.hear.process import run
from streamer.hear.wish import Wish
from streamer.net.arrivals import Arrivals
from streamer.net.listener import Moment

OCTETS_PER_MB = 1e6
NOTHING = (
    "Nothing was heard: no file was made. See whether anything is sent, and by which interface it comes: "
    "ropewalk hear --discover"
)


def keep(capture: Path, wish: Wish, seconds: float | None, *, as_json: bool) -> bool:
    """Listen until the time is up or the end is asked for, and say what is in the file; whether anything is.

    Raises CaptureError or NetworkError.
    """
    with CaptureWriter(capture, f"Ropewalk {version('ropewalk')}", wish.interface or "") as writer:
        progress = _Progress(writer)

        def take(protocol: Protocol, arrivals: Arrivals, moment: Moment) -> None:
            writer.write(datagrams(arrivals, moment, PORTS[protocol]))

        heard = run(wish, out=progress.tell, tap=take, seconds=seconds)
        progress.end()
        dropped = sum(each.dropped or 0 for each in heard.sockets)
        writer.close(dropped)
    for trouble in heard.notes:
        complain(trouble)
    (_say_json if as_json else _say)(writer, heard, dropped)
    return writer.packets > 0


class _Progress:
    """One line on a terminal's standard error, written over each second."""

    def __init__(self, writer: CaptureWriter) -> None:
        self._writer = writer
        self._is_shown = sys.stderr is not None and sys.stderr.isatty()
        self._seconds = 0

    def tell(self, _heard: Heard) -> None:
        self._seconds += 1
        if self._is_shown:
            text = f"{self._seconds} s: {_kept(self._writer)}; Ctrl-C ends it"
            click.echo(f"\r{text:<79}", err=True, nl=False)

    def end(self) -> None:
        if self._is_shown and self._seconds:
            click.echo("", err=True)


def _kept(writer: CaptureWriter) -> str:
    return f"{counted(writer.packets, 'packet')}, {writer.octets / OCTETS_PER_MB:.1f} MB"


def _say(writer: CaptureWriter, heard: Heard, dropped: int) -> None:
    sources = sum(len(universe.sources) for universe in heard.universes)
    universes = sum(bool(universe.sources) for universe in heard.universes)
    of = f"of {counted(sources, 'source')} on {counted(universes, 'universe')}"
    say(f"{writer.path}: {_kept(writer)}, {of}." if writer.packets else NOTHING)
    if dropped:
        say(
            f"{counted(dropped, 'packet')} came faster than this machine could keep them and are NOT in the "
            "file. Record fewer universes, or allow a larger buffer (sysctl net.core.rmem_max)."
        )


def _say_json(writer: CaptureWriter, heard: Heard, dropped: int) -> None:
    say_json(
        {
            "file": str(writer.path) if writer.packets else None,
            "packets": writer.packets,
            "octets": writer.octets,
            "dropped": dropped,
            "universes": sum(bool(universe.sources) for universe in heard.universes),
            "sources": sum(len(universe.sources) for universe in heard.universes),
            "notes": list(heard.notes),
        }
    )
