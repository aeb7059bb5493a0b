"""What a scan found, in lines: for a terminal of any width, and for a sheet of the screen."""

import textwrap
from collections.abc import Iterable, Iterator
from enum import Enum
from typing import NamedTuple

from streamer.display.numbering import PROTOCOL_NAME
from streamer.scan.comparing import Compared, Comparison, Verdict
from streamer.scan.devices import Device, Direction, NodePort
from streamer.scan.found import Found, Source
from streamer.scan.poller import ANSWER_S
from streamer.scan.runs import runs_text
from streamer.wire.port_address import text

OUTPUTS_LISTED = 64
DEVICES_LISTED = 250
"""More than a person reads; --json has all."""
LEAST_COLUMNS = 12
ROWS_LISTED = 1_000
NOBODY = (
    "No Art-Net device answers. Check that it has power and a cable, that its address is in the same network "
    "as this machine's, and that its Art-Net is switched on."
)
NO_SOURCE = (
    "No E1.31 source announces its universes. Sources do so every 10 s; receivers never do, and some sources "
    "do not either: `ropewalk hear` hears those."
)
SIGNS = {
    Verdict.AS_PLANNED: "=",
    Verdict.THERE: "=",
    Verdict.OTHERWISE: "!",
    Verdict.MISSING: "-",
    Verdict.UNKNOWN: "?",
    Verdict.UNPLANNED: "+",
}
"""Told apart without colour."""


class Tone(Enum):
    """What kind of line it is."""

    HEAD = "head"
    PLAIN = "plain"
    GOOD = "good"
    BAD = "bad"
    QUIET = "quiet"


class Line(NamedTuple):
    """One paragraph; how far its first row and the others are indented."""

    text: str
    tone: Tone = Tone.PLAIN
    first: int = 0
    others: int = 0


def wrapped(line: Line, columns: int) -> str:
    """Return a line for so many columns, its further rows indented."""
    return textwrap.fill(
        line.text,
        max(columns, LEAST_COLUMNS),
        initial_indent=" " * line.first,
        subsequent_indent=" " * line.others,
        break_on_hyphens=False,
    )


def found_lines(found: Found) -> Iterator[Line]:
    """Yield what answers and what announces itself."""
    asked = ", ".join((*found.broadcasts, *found.singles)[:OUTPUTS_LISTED])
    times = "once" if found.polls == 1 else f"{found.polls} times"
    yield Line(f"Asked {asked}, {times} in {found.seconds:.0f} s.", Tone.QUIET, 0, 2)
    if found.seconds < ANSWER_S:
        yield Line(f"Devices may take {ANSWER_S:.0f} s to answer.", Tone.QUIET, 0, 2)
    yield Line(f"Art-Net devices: {len(found.devices)}", Tone.HEAD)
    if not found.devices:
        yield Line(NOBODY, Tone.PLAIN, 2, 2)
    for device in found.devices[:DEVICES_LISTED]:
        yield from _device(device, found.now_s)
    if len(found.devices) > DEVICES_LISTED:
        yield Line(f"and {len(found.devices) - DEVICES_LISTED} more: --json lists all", Tone.PLAIN, 2, 4)
    yield Line(f"E1.31 sources: {len(found.sources)}", Tone.HEAD)
    if not found.sources:
        yield Line(NO_SOURCE, Tone.PLAIN, 2, 2)
    for source in found.sources:
        yield _source(source)
    for note in found.notes:
        yield Line(f"! {note}", Tone.BAD, 0, 2)


def _device(device: Device, now_s: float) -> Iterator[Line]:
    gone = "" if device.is_there else f", SILENT for {now_s - device.heard_s:.0f} s"
    tone = Tone.GOOD if device.is_there else Tone.BAD
    yield Line(f"{device.address}  {device.name}{gone}", tone, 2, 4)
    for words in _identity(device):
        yield Line(words, Tone.PLAIN, 4, 6)
    for direction in Direction:
        ports = [port for port in device.ports if port.direction is direction]
        if ports:
            listed = [_port(port) for port in ports[:OUTPUTS_LISTED]]
            more = [f"and {len(ports) - OUTPUTS_LISTED} more"] if len(ports) > OUTPUTS_LISTED else []
            yield Line(f"{direction}s: {'; '.join([*listed, *more])}", Tone.PLAIN, 4, 6)
    if device.status:
        yield Line(", ".join(device.status), Tone.PLAIN, 4, 6)
    yield from _state(device)


def _identity(device: Device) -> Iterator[str]:
    if device.long_name and device.long_name != device.name:
        yield device.long_name
    mac = f"MAC {device.mac}, " if device.mac else ""
    yield f"{device.style}, {mac}firmware {device.firmware}, OEM {device.oem}, ESTA {device.esta}"
    if device.source != device.address:
        yield f"answers from {device.source}, which is not the address that it says"
    if device.bound_to:
        yield f"part of the device at {device.bound_to}"
    if device.refresh_rate_hz:
        yield f"takes {device.refresh_rate_hz} frames a second"


def _port(port: NodePort) -> str:
    remarks = list(port.status) if port.protocol == "DMX512" else [port.protocol, *port.status]
    return f"{port.number}: {text(port.port_address)}{' ' + ', '.join(remarks) if remarks else ''}"


def _state(device: Device) -> Iterator[Line]:
    report = device.report
    if report:
        words = f' "{report.words}"' if report.words else ""
        said = f"report {report.code:#06x}, {report.meaning}, reply {report.counter}:{words}"
        yield Line(said.rstrip(":"), Tone.PLAIN, 4, 6)
    elif device.report_text:
        yield Line(f'report "{device.report_text}"', Tone.PLAIN, 4, 6)
    if device.restarts:
        times = "once" if device.restarts == 1 else f"{device.restarts} times"
        yield Line(f"! switched off and on {times} meanwhile: {device.restart}", Tone.BAD, 4, 6)


def _source(source: Source) -> Line:
    part = "" if source.is_whole else ", and pages that were not heard"
    what = "universe" if len(source.universes) == 1 else "universes"
    universes = f"{what} {runs_text(source.universes)}" if source.universes else "no universe"
    return Line(f"'{source.name}' at {source.address}: {universes}{part}", Tone.GOOD, 2, 4)


def comparison_lines(comparison: Comparison) -> Iterator[Line]:
    """Yield how what was found agrees with the display file."""
    yield Line(f"Compared with the plan of {comparison.display}", Tone.HEAD)
    for row in comparison.rows[:ROWS_LISTED]:
        yield from _row(row)
    if len(comparison.rows) > ROWS_LISTED:
        yield Line(f"and {len(comparison.rows) - ROWS_LISTED} more: --json lists all", Tone.PLAIN, 2, 4)
    for announced in comparison.announced:
        yield Line(f"! {announced.sentence}.", Tone.BAD, 2, 4)
    yield Line(_summary(comparison.rows), Tone.GOOD if comparison.is_as_planned else Tone.BAD)


def _row(row: Compared) -> Iterator[Line]:
    good = dict.fromkeys((Verdict.AS_PLANNED, Verdict.THERE), Tone.GOOD)
    tone = {**good, Verdict.OTHERWISE: Tone.BAD, Verdict.MISSING: Tone.BAD}.get(row.verdict, Tone.PLAIN)
    where = f"{row.name}, {PROTOCOL_NAME[row.protocol]} at {row.address}"
    yield Line(f"{SIGNS[row.verdict]} {where}: {row.verdict}", tone, 2, 4)
    yield from (Line(f"{sentence}.", Tone.PLAIN, 6, 6) for sentence in row.sentences)


def _summary(rows: Iterable[Compared]) -> str:
    verdicts = [row.verdict for row in rows]
    counts = [f"{verdicts.count(each)} {each}" for each in Verdict if each in verdicts]
    return f"{', '.join(counts)}."
