"""How often a data line can be refreshed: chips' published timing, and ANSI E1.11 for DMX512-A."""

from dataclasses import dataclass

from streamer.display.chips import CHIPS, assumed_chip
from streamer.display.model import SLOTS_PER_UNIVERSE, Controller, Port

NS_PER_US = 1_000
US_PER_S = 1_000_000
US_PER_MS = 1_000
RULE = "sources of E1.31 and Art-Net keep to the rate of DMX512"

DMX_BREAK_US = 92
DMX_MARK_AFTER_BREAK_US = 12
DMX_SLOT_US = 44
"""11 bits of 4 us: one start, eight data, two stop."""
DMX_BREAK_TO_BREAK_US = 1_204
"""ANSI E1.11, timing of a transmitter: the least of each."""


@dataclass(frozen=True, slots=True)
class LineTime:
    """How long a frame takes on a string's data line."""

    chip: str | None
    """As the file names it; None where the timing is assumed."""
    bits: int
    """Of a frame, skipped nodes and what comes before the first included."""
    frame_us: float
    """With the idle time that latches it."""
    limit_hz: float


@dataclass(frozen=True, slots=True)
class DmxTime:
    """How long a packet takes on a DMX512-A line."""

    slots: int
    packet_us: float
    limit_hz: float


@dataclass(frozen=True, slots=True)
class ShownRate:
    """How many frames a second the whole display can really show."""

    limit_hz: float
    held_by: str
    """The slowest port or universe of a fixture, or the rule that holds all sources back."""
    reason: str
    asked_hz: float
    slowest_port: str | None
    slowest_port_hz: float | None
    """Of the data lines alone; None where there is no string."""


def line_time(port: Port) -> LineTime:
    """Return the time of a port's line: bits times the bit period, plus the reset (chips' datasheets)."""
    chip = CHIPS[port.chip] if port.chip else assumed_chip(len(port.colour_order))
    bits = chip.head_bits + (port.skip + port.nodes) * chip.bits
    frame_us = bits * chip.bit_ns / NS_PER_US + chip.reset_us
    return LineTime(port.chip, bits, frame_us, US_PER_S / frame_us)


def dmx_time(slots: int) -> DmxTime:
    """Return the shortest time of a packet of 1 to 512 slots, break to break (ANSI E1.11)."""
    packet_us = DMX_BREAK_US + DMX_MARK_AFTER_BREAK_US + DMX_SLOT_US * (slots + 1)
    packet_us = max(packet_us, DMX_BREAK_TO_BREAK_US)
    return DmxTime(slots, packet_us, US_PER_S / packet_us)


def shown_rate(controllers: tuple[Controller, ...], asked_hz: float) -> ShownRate:
    """Return the rate of the slowest of all lines, of DMX512-A, and of the standards' rule for sources.

    ANSI E1.31-2018 clause 6.6.1 and Art-Net 4 hold a source to the highest rate of a full DMX512-A packet.
    """
    rule_hz = dmx_time(SLOTS_PER_UNIVERSE).limit_hz
    lines = [
        (line.limit_hz, port.name, f"{port.skip + port.nodes} nodes on one line take {_ms(line.frame_us)}")
        for controller in controllers
        for port in controller.ports
        for line in [line_time(port)]
    ]
    fixtures = [
        (dmx_time(controller.slots).limit_hz, fixture.name, f"DMX512 packets of {controller.slots} slots")
        for controller in controllers
        for fixture in controller.fixtures
    ]
    slowest_hz, slowest, _ = min(lines, default=(None, None, ""))
    limit_hz, held_by, reason = min(
        [(rule_hz, "the standards", RULE), *lines, *fixtures], key=lambda each: each[0]
    )
    return ShownRate(limit_hz, held_by, reason, asked_hz, slowest, slowest_hz)


def _ms(us: float) -> str:
    return f"{us / US_PER_MS:.1f} ms"
