"""What feeds a display and what it draws, as plain, frozen, checked values. It computes nothing.

All of it is optional in a file: what is not said is assumed where it is computed (streamer/power), and told.
"""

from enum import StrEnum
from typing import Annotated, Self

from pydantic import Field, model_validator

from streamer.display.part import Part

VOLTS_LIMIT = 60.0
"""Strings of lights are extra-low voltage: far below the 120 V of ripple-free d.c. of IEC 61140."""
AMPS_LIMIT = 1_000.0
MILLIAMPS_LIMIT = 5_000.0
AWG_FINEST, AWG_THICKEST = 30, 0
MM2_FINEST, MM2_THICKEST = 0.05, 50.0
LEAD_LIMIT_M = 1_000.0
COLOURS_FEWEST, COLOURS_MOST = 3, 4
INJECTIONS_LIMIT = 100
"""Of one string."""
SUPPLIES_LIMIT = 200
"""Of one display, and as many kinds of nodes: names are compared with each other."""

Volts = Annotated[float, Field(gt=0, le=VOLTS_LIMIT, allow_inf_nan=False)]
Amps = Annotated[float, Field(gt=0, le=AMPS_LIMIT, allow_inf_nan=False)]
Milliamps = Annotated[float, Field(ge=0, le=MILLIAMPS_LIMIT, allow_inf_nan=False)]
After = Annotated[int, Field(ge=1, le=10_000)]


class Drive(StrEnum):
    """How a node's current depends on its voltage."""

    CONSTANT_CURRENT = "constant current"
    """The same at any voltage from the minimum up."""
    RESISTIVE = "resistive"
    """In proportion to the voltage."""
    REGULATED = "regulated"
    """The same power at any voltage from the minimum up: less voltage, more current."""


class Wire(Part):
    """One copper conductor, by one of the two ways in which the trade gives its cross-section."""

    awg: Annotated[int, Field(ge=AWG_THICKEST, le=AWG_FINEST)] | None = None
    """American wire gauge, ASTM B258."""
    mm2: Annotated[float, Field(ge=MM2_FINEST, le=MM2_THICKEST, allow_inf_nan=False)] | None = None
    """Nominal cross-section, IEC 60228."""

    @model_validator(mode="after")
    def _is_given_one_way(self) -> Self:
        if (self.awg is None) == (self.mm2 is None):
            raise ValueError("a wire has a gauge or a cross-section")
        return self

    @property
    def text(self) -> str:
        """As a person writes it."""
        return f"{self.mm2:g} mm2" if self.awg is None else f"{self.awg} AWG"


class Lead(Part):
    """A cable of two equal conductors from a supply to a string."""

    length_m: Annotated[float, Field(gt=0, le=LEAD_LIMIT_M)]
    """Of the cable, not of both conductors together."""
    wire: Wire
    written: Annotated[str, Field(max_length=40)] = ""
    """The length as the person wrote it, with its unit; empty where nobody did."""

    @property
    def text(self) -> str:
        """As a person writes it."""
        return f"{self.written or f'{self.length_m:.3g} m'}, {self.wire.text}"


class Supply(Part):
    """A power supply, or one of its outputs."""

    name: str
    volts: Volts
    amps: Amps
    """What it can give."""
    fuse_a: Amps | None = None
    """The rating of the fuse at its output."""


class NodeKind(Part):
    """What one node draws."""

    name: str
    drive: Drive = Drive.CONSTANT_CURRENT
    volts: Volts
    """Nominal: at this voltage the currents are what they are given as."""
    volts_min: Volts
    """Below it a node no longer shows what it is told."""
    full_ma: Annotated[tuple[Milliamps, ...], Field(min_length=COLOURS_FEWEST, max_length=COLOURS_MOST)]
    """Of red, green, blue (and white), each alone and fully on, without `idle_ma`."""
    idle_ma: Milliamps
    """Of a dark node."""


class Injection(Part):
    """A second feed of a string, at a node other than its first."""

    after: After
    """At which node, counted from 1 at the end where data and power enter, skipped nodes left out."""
    lead: Lead
    supply: str | None = None
    """Without one, that of the port."""
    fuse_a: Amps | None = None
    is_positive_cut: bool | None = None
    """Whether the string's positive conductor is cut after that node, and only what follows is fed here.

    Without a word it is cut where the supply is another one, and goes on where it is the same.
    """
