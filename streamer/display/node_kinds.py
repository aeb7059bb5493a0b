"""The kinds of nodes that need not be written out, by technology. Common practice, no source, where not said.

A measured string is always better: two reels sold under one name may differ by half.
"""

from streamer.display.electrics import COLOURS_MOST, Drive, NodeKind
from streamer.display.model import Display, Port

CONSTANT_MA = 18.5
"""Each output of a WS2811-class driver: its datasheet's application page."""
REGULATED_MA = 9.0
"""5 V nodes of 18.5 mA a colour behind a converter from 12 V of 85 %: 18.5 x 5 / (12 x 0.85). Computed."""
IDLE_5_V_MA = 1.0
IDLE_12_V_MA = 2.6
"""(12 V - 5 V) / 2.7 kohm: the resistor before a 5 V driver, not the driver. Computed."""

CONSTANT = (CONSTANT_MA,) * COLOURS_MOST
REGULATED = (REGULATED_MA,) * COLOURS_MOST

BUILT_IN = (
    NodeKind(name="5 V constant current", volts=5, volts_min=4.5, full_ma=CONSTANT, idle_ma=IDLE_5_V_MA),
    NodeKind(name="12 V constant current", volts=12, volts_min=10.8, full_ma=CONSTANT, idle_ma=IDLE_12_V_MA),
    NodeKind(
        name="12 V resistive",
        drive=Drive.RESISTIVE,
        volts=12,
        volts_min=10.8,
        full_ma=CONSTANT,
        idle_ma=IDLE_12_V_MA,
    ),
    NodeKind(
        name="12 V regulated",
        drive=Drive.REGULATED,
        volts=12,
        volts_min=8,
        full_ma=REGULATED,
        idle_ma=IDLE_5_V_MA,
    ),
)
"""`volts_min` is a tenth below nominal, and what a converter to 5 V needs: common practice, no source."""

BUILT_IN_NAMES = frozenset(kind.name for kind in BUILT_IN)


def node_kind_of(display: Display, port: Port) -> NodeKind | None:
    """Return the kind that a port of a checked display names; None where it names none."""
    kinds = (*display.node_kinds, *BUILT_IN)
    return next((kind for kind in kinds if kind.name == port.node_kind), None)
