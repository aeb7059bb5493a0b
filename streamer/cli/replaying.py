"""What `ropewalk replay` does: looks through a capture, says what is in it, and streams it."""

import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path
from typing import BinaryIO

import click

from streamer.capture.datagram import Datagram
from streamer.capture.reading import Capture, open_capture
from streamer.cli.common import complain, counted, say, say_json
from streamer.cli.outcome import NOBODY_LISTENS
from streamer.display.model import Protocol
from streamer.ending import ending_signals
from streamer.engine.flash_limit import WORD
from streamer.errors import PlanError, Problem
from streamer.flash_rule import DANGER, FLASHES_PER_S
from streamer.net.interfaces import find_interface
from streamer.net.sender import Sender, UdpSender
from streamer.replay.playing import Edge, Played, play
from streamer.replay.survey import Survey, survey

TELL_EACH = 2_000
"""Packets: a fraction of a second."""
NOTHING = "nothing in it could be streamed. Record again while lights are sent: ropewalk record --help"
TOLD_MAX = 8
"""Streams named one by one."""
PROTOCOLS = {Protocol.E131: "E1.31", Protocol.ARTNET: "Art-Net"}


@dataclass(frozen=True, slots=True)
class Asked:
    """The options of the command."""

    capture: Path
    speed: float
    to: str | None
    interface: str | None
    understood: str
    look: bool
    as_json: bool

    def check(self) -> None:
        """Raise PlanError for what cannot be."""
        try:
            ip_address(self.to or "127.0.0.1")
        except ValueError as error:
            instead = "Write a number such as 192.0.2.20; host names are not looked up"
            raise PlanError([Problem("--to", f"{self.to!r} is no address", instead)]) from error


def stream(asked: Asked) -> bool:
    """Look through the capture, stream it if that may be, and say so; whether all was well.

    Raises CaptureError or NetworkError.
    """
    with open_capture(asked.capture) as file:
        capture = Capture(file, asked.capture)
        found = survey(_watched(capture, file, asked.capture), asked.speed)
    may_go = not found.flashing or asked.understood == WORD
    if asked.look or not found.packets or not may_go:
        _say_found(asked, capture, found)
        if not found.packets:
            complain(f"{asked.capture}: {NOTHING}")
        elif not asked.look and not may_go:
            complain(_refusal(asked, found))
        return found.packets > 0 and (asked.look or may_go)
    with ending_signals() as has_signal:
        if not asked.as_json:
            _say_found(asked, capture, found)
        played, sender = _send(asked, found, has_signal)
    if asked.as_json:
        say_json(_found_dict(capture, found) | _played_dict(played, sender))
    else:
        _say_played(played, sender)
    return played.is_whole and set(sender.counters.errors) <= {NOBODY_LISTENS}


def _watched(capture: Capture, file: BinaryIO, path: Path) -> Iterator[Datagram]:
    """Hand through what is looked at, with a line on a terminal's standard error: it takes minutes."""
    if sys.stderr is None or not sys.stderr.isatty():
        yield from capture
        return
    octets = max(1, path.stat().st_size)
    for number, datagram in enumerate(capture):
        if number % TELL_EACH == 0:
            text = f"looking through it: {100 * file.tell() // octets} %"
            click.echo(f"\r{text:<40}", err=True, nl=False)
        yield datagram
    click.echo(f"\r{'':<40}\r", err=True, nl=False)


def _send(asked: Asked, found: Survey, is_over: Callable[[], bool]) -> tuple[Played, Sender]:
    interface = find_interface(asked.interface) if asked.interface else None
    with closing(UdpSender(interface, broadcast=True)) as sender, open_capture(asked.capture) as file:
        edge = Edge(time.monotonic, time.sleep, sender.send_one, is_over)
        steps = play(Capture(file, asked.capture), edge, asked.speed, asked.to)
        return _followed(steps, found.lasts_s), sender


def _followed(steps: Iterable[Played], lasts_s: float) -> Played:
    """Play on, with a line on a terminal's standard error that is written over; return how it ended."""
    is_shown, played = sys.stderr is not None and sys.stderr.isatty(), Played()
    for played in steps:
        if is_shown:
            text = f"{played.at_s:.0f} of {lasts_s:.0f} s; Ctrl-C ends it, dark"
            click.echo(f"\r{text:<40}", err=True, nl=False)
    if is_shown:
        click.echo("", err=True)
    return played


def _say_found(asked: Asked, capture: Capture, found: Survey) -> None:
    if asked.as_json:
        say_json(_found_dict(capture, found))
        return
    of = f"{counted(found.packets, 'packet')} of levels or synchronization in {found.lasts_s:.1f} s"
    passed_over = found.passed_over + capture.passed_over
    say(f"{asked.capture}: {of}; {counted(passed_over, 'packet')} of another kind passed over.")
    streams = sorted(found.streams, key=lambda each: (each.protocol, each.universe, each.source))
    for each in streams[:TOLD_MAX]:
        say(f"  {PROTOCOLS[each.protocol]} {each} of {each.source} to {each.destination[0]}")
    if len(streams) > TOLD_MAX or found.is_more:
        say(f"  and {len(streams) - TOLD_MAX} more{' at least' if found.is_more else ''}")
    if capture.is_cut_short:
        say("  The file ends within a packet, as after a loss of power; what stands before it is good.")


def _refusal(asked: Asked, found: Survey) -> str:
    first = min(found.flashing, key=lambda each: (each.protocol, each.universe))
    where = f"{first} and {counted(len(found.flashing) - 1, 'other')}" if found.flashing else "all together"
    return (
        f"{asked.capture}: from {found.flashes_from_s or 0.0:.1f} s on lights would flash more than "
        f"{FLASHES_PER_S} times in a second ({where}); {DANGER}. Replay it slower with --speed; or, where "
        f"nobody can be hurt, with --understood and the word {WORD}, typed in full."
    )


def _say_played(played: Played, sender: Sender) -> None:
    how = "All of it was sent" if played.is_whole else f"Ended after {played.at_s:.1f} s of it"
    say(f"{how}: {counted(played.packets, 'packet')}, {played.late} of them late; then dark and ended.")
    for complaint, packets in sender.complaints.items():
        complain(f"{counted(packets, 'packet')} not sent: {complaint}")


def _found_dict(capture: Capture, found: Survey) -> dict[str, object]:
    return {
        "packets": found.packets,
        "passed_over": found.passed_over + capture.passed_over,
        "lasts_s": found.lasts_s,
        "is_cut_short": capture.is_cut_short,
        "flashes_from_s": found.flashes_from_s,
        "streams": [
            {
                "protocol": each.protocol.value,
                "universe": each.universe,
                "source": each.source,
                "destination": each.destination[0],
                "flashes": each in found.flashing,
            }
            for each in sorted(found.streams, key=lambda each: (each.protocol, each.universe, each.source))
        ],
    }


def _played_dict(played: Played, sender: Sender) -> dict[str, object]:
    sent = {"sent": played.packets, "late": played.late, "is_whole": played.is_whole}
    return {**sent, "errors": dict(sender.counters.errors)}
