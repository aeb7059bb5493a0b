"""What copper wire opposes to current, by gauge or cross-section, at a temperature."""

import math
from dataclasses import dataclass

from streamer.display.electrics import Wire

AWG_36_MM = 0.127
AWG_36 = 36
AWG_RATIO, AWG_STEPS = 92.0, 39
"""ASTM B258: 92 times the diameter in 39 steps, from 36 AWG of 0.127 mm."""
CIRCLE = math.pi / 4
OHM_MM2_PER_M_20_C = 1 / 58
"""IEC 60028: annealed copper of 100 % IACS at 20 degrees Celsius."""
PER_KELVIN = 0.00393
"""IEC 60028: its temperature coefficient at 20 degrees."""
REFERENCE_C = 20.0
AWG_STRANDED = 1.0235
"""NEC chapter 9 table 8, 18 AWG at 75 degrees: 26.1 ohm/km stranded to 25.5 solid."""
MM2_STRANDED = 1.131
"""IEC 60228, 1 mm2: 19.5 ohm/km at most for class 5, flexible; other sizes are within 3 % of this."""


@dataclass(frozen=True, slots=True)
class Copper:
    """The state of all the copper: its temperature in degrees Celsius, and whether it is stranded."""

    celsius: float = REFERENCE_C
    is_stranded: bool = True

    def ohms_per_m(self, wire: Wire) -> float:
        """Return the resistance of one conductor."""
        area = area_mm2(wire)
        solid = OHM_MM2_PER_M_20_C / area * (1 + PER_KELVIN * (self.celsius - REFERENCE_C))
        if not self.is_stranded:
            return solid
        return solid * (AWG_STRANDED if wire.mm2 is None else MM2_STRANDED)

    @property
    def words(self) -> str:
        """What is assumed of it."""
        strands = "stranded" if self.is_stranded else "solid"
        return f"copper at {self.celsius:g} °C, {strands} (ASTM B258, IEC 60028, IEC 60228)"


def area_mm2(wire: Wire) -> float:
    """Return a conductor's cross-section (by gauge: ASTM B258, solid)."""
    if wire.awg is None:
        return wire.mm2 or 0.0
    steps: float = (AWG_36 - wire.awg) / AWG_STEPS
    return CIRCLE * math.pow(AWG_36_MM * math.pow(AWG_RATIO, steps), 2)
