"""The published timing of the chips that drive nodes by one data wire, under the names on the reels.

A bit takes one period, whether 0 or 1; after the last bit the line idles, which latches the frame. The bit
period is really the controller's: it must be one that the chip takes.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Chip:
    """What a data line needs to know: see the chips' datasheets, timing tables."""

    bits: int
    """Of a node: 8 or 16 for each colour."""
    colours: int
    bit_ns: int
    """1,250 at 800 kHz, 2,500 at 400 kHz."""
    reset_us: int
    """Idle time that latches."""
    head_bits: int = 0
    """Sent before the first node in every frame."""


CHIPS = {
    "WS2811": Chip(24, 3, 1_250, 280),
    "WS2811 at 400 kHz": Chip(24, 3, 2_500, 50),
    "WS2812B": Chip(24, 3, 1_250, 280),
    "WS2813": Chip(24, 3, 1_250, 280),
    "WS2815": Chip(24, 3, 1_250, 280),
    "SK6812": Chip(24, 3, 1_200, 80),
    "SK6812 RGBW": Chip(32, 4, 1_200, 80),
    "UCS1903": Chip(24, 3, 2_500, 24),
    "UCS1903B": Chip(24, 3, 1_250, 24),
    "TM1814": Chip(32, 4, 1_250, 200, head_bits=64),
    "UCS8903": Chip(48, 3, 1_250, 48),
    "UCS8904B": Chip(64, 4, 1_250, 48),
}
"""Those of the present editions: WS2811 and WS2812B on older reels latch after 50 us, which the newer 280
includes. TM1814 begins each frame with two 32-bit current commands."""


def assumed_chip(colours: int) -> Chip:
    """Return the timing to plan with where no chip is named, for 3 or 4 colours.

    800 kHz, 8 bits a colour and 300 us of idle time, which every 8-bit 800 kHz chip above takes: common
    practice, no source.
    """
    return Chip(8 * colours, colours, 1_250, 300)
