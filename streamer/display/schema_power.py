"""The keys of a display file that say what feeds the strings and what their nodes draw."""

from typing import Annotated

from pydantic import BeforeValidator, Field, WrapValidator

from streamer.display.electrics import (
    AMPS_LIMIT,
    COLOURS_FEWEST,
    COLOURS_MOST,
    INJECTIONS_LIMIT,
    LEAD_LIMIT_M,
    MILLIAMPS_LIMIT,
    SUPPLIES_LIMIT,
    VOLTS_LIMIT,
    After,
    Amps,
    Drive,
    Milliamps,
    Volts,
    Wire,
)
from streamer.display.keys import NAME_WORDS, FilePart, Name, key
from streamer.display.units import wire_of, written_mm

MM_PER_M = 1000
WATTS_LIMIT = AMPS_LIMIT * VOLTS_LIMIT
LENGTH_WORDS = "text: a length over 0 with its unit (mm, cm, m, in, ft, yd)"
WIRE_WORDS = 'text: a gauge from "0 AWG" to "30 AWG", or a cross-section from "0.05 mm2" to "50 mm2"'
AMPS_WORDS = f"a number of amperes over 0 and up to {AMPS_LIMIT:g}"
WATTS_WORDS = f"a number of watts over 0 and up to {WATTS_LIMIT:g}"
VOLTS_WORDS = f"a number of volts over 0 and up to {VOLTS_LIMIT:g}"
MILLIAMPS_WORDS = f"a number of milliamperes from 0 to {MILLIAMPS_LIMIT:g}"

NODE_KIND_WORDS = f"the name of one of the [[node_kinds]] or of a built-in kind: {NAME_WORDS}"

ReadWire = Annotated[Wire, BeforeValidator(wire_of)]
Watts = Annotated[float, Field(gt=0, le=WATTS_LIMIT, allow_inf_nan=False)]
FUSE = key("fuse = 5", AMPS_WORDS)
SUPPLY = key('supply = "lake shed"', f"the name of one of the [[supplies]]: {NAME_WORDS}")
LEAD = key('lead = { length = "3 m", wire = "18 AWG" }', "a table with length and wire")
WIRE = key('wire = "18 AWG"', WIRE_WORDS)
"""Keys stand outside of `| None`, where pydantic finds them."""


class FileLead(FilePart):
    """A cable from a supply to a string: `{ length = "3 m", wire = "18 AWG" }`."""

    length: Annotated[
        float,
        WrapValidator(written_mm),
        Field(gt=0, le=LEAD_LIMIT_M * MM_PER_M),
        key('length = "3 m"', f"{LENGTH_WORDS}, up to {LEAD_LIMIT_M:g} m"),
    ]
    wire: Annotated[ReadWire, WIRE]


class FileInjection(FilePart):
    """A second feed of a string."""

    after: Annotated[After, key("after = 50")]
    lead: Annotated[FileLead, LEAD]
    supply: Annotated[Name | None, SUPPLY] = None
    fuse: Annotated[Amps | None, FUSE] = None
    positive_cut: Annotated[bool | None, key("positive_cut = true", "true or false")] = None


class FileSupply(FilePart):
    """One `[[supplies]]`."""

    name: Annotated[Name, key('name = "lake shed"', NAME_WORDS)]
    volts: Annotated[Volts, key("volts = 12", VOLTS_WORDS)]
    amps: Annotated[Amps | None, key("amps = 29", AMPS_WORDS)] = None
    watts: Annotated[Watts | None, key("watts = 350", WATTS_WORDS)] = None
    fuse: Annotated[Amps | None, FUSE] = None


class FileNodeKind(FilePart):
    """One `[[node_kinds]]`."""

    name: Annotated[Name, key('name = "rail bullets"', NAME_WORDS)]
    drive: Annotated[
        Drive, Field(strict=False), key('drive = "constant current"', " or ".join(f'"{d}"' for d in Drive))
    ] = Drive.CONSTANT_CURRENT
    volts: Annotated[Volts, key("volts = 12", VOLTS_WORDS)]
    volts_min: Annotated[Volts, key("volts_min = 10.8", VOLTS_WORDS)]
    full_ma: Annotated[
        list[Milliamps],
        Field(min_length=COLOURS_FEWEST, max_length=COLOURS_MOST),
        key(
            "full_ma = [18.5, 18.5, 18.5]",
            f"a list of three or four numbers, for red, green, blue (and white): each {MILLIAMPS_WORDS}",
        ),
    ]
    idle_ma: Annotated[Milliamps, key("idle_ma = 1", MILLIAMPS_WORDS)]


TABLES_WORDS = f"a list of up to {SUPPLIES_LIMIT} tables"
Supplies = Annotated[list[FileSupply], Field(max_length=SUPPLIES_LIMIT), key("[[supplies]]", TABLES_WORDS)]
NodeKinds = Annotated[
    list[FileNodeKind], Field(max_length=SUPPLIES_LIMIT), key("[[node_kinds]]", TABLES_WORDS)
]
Injections = Annotated[
    list[FileInjection],
    Field(max_length=INJECTIONS_LIMIT),
    key(
        'injections = [ { after = 50, lead = { length = "8 m", wire = "18 AWG" } } ]',
        f"a list of up to {INJECTIONS_LIMIT} tables",
    ),
]
