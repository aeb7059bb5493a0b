"""What would go wrong on the data lines: too slow for the rate, or made for other nodes."""

from collections.abc import Iterator, Sequence

from streamer.display.chips import CHIPS
from streamer.display.model import Display
from streamer.plan.asked import Asked
from streamer.plan.findings import Finding, Severity, places_text
from streamer.plan.timing import LineTime, dmx_time


def line_findings(display: Display, lines: Sequence[LineTime], asked: Asked) -> Iterator[Finding]:
    """Yield the findings; `lines` are those of the display's ports."""
    yield from _slow(display, lines, asked)
    for port in display.ports:
        chip = CHIPS[port.chip] if port.chip else None
        if chip and chip.colours != len(port.colour_order):
            what = (
                f"{port.chip} takes {chip.colours} colours a node, but colour_order is {port.colour_order}: "
                "all colours would be wrong from the second node on"
            )
            instead = f"Write a colour_order of {chip.colours} letters, or the chip that is on the reel."
            yield Finding(Severity.FAULT, port.name, what, instead)


def _slow(display: Display, lines: Sequence[LineTime], asked: Asked) -> Iterator[Finding]:
    limits = {port.name: line.limit_hz for port, line in zip(display.ports, lines, strict=True)}
    limits |= {
        fixture.name: dmx_time(controller.slots).limit_hz
        for controller in display.controllers
        for fixture in controller.fixtures
    }
    slow = sorted((limit_hz, name) for name, limit_hz in limits.items() if limit_hz < asked.rate_hz)
    if slow:
        lowest_hz = int(slow[0][0])
        what = (
            f"at {asked.rate_hz:g} frames a second the line is not done with a frame when the next one comes "
            f"({slow[0][0]:.1f} a second at most): frames are lost"
        )
        send = f"Send {lowest_hz} a second (--rate {lowest_hz})" if lowest_hz else "Split the string"
        severity = Severity.FAULT if asked.is_rate_said else Severity.WARNING
        place = places_text([name for _, name in slow])
        yield Finding(severity, place, what, f"{send}, or put fewer nodes on the port.")
