"""The cautions: shown once before the first light of an evening, and always in the help."""

import ipaddress

from streamer.display.model import GROUPS
from streamer.engine.messages import Setup

CAUTIONS = """
Mains kills. Outdoors, feed everything through a residual-current device (RCD; GFCI in North America) and test
its button first. Take the power away before you open a box or touch a connector. Mains wiring is for a
licensed electrician, by the code of the place.

Ladders: somebody at the foot, one hand for yourself, never in wind or rain. Sight the rungs before the lights
go dark: a dark display is a dark lawn.

Flashing light can trigger seizures. Warn the people who look on. The engine holds back frames that would
flash more than three times a second; a display file may ask for fewer (flashes_per_s = 1). Keep Space, the
dark key, within reach.

Full white draws the most current: supplies, fuses and thin leads get hot. Begin low, feel for warmth with the
power off.
"""
FULL_POWER_PERCENT = 60.0
"""Above this level the screen asks first. Common practice, no source."""
FULL_POWER = (
    "More light means more current. Are the supplies, fuses and leads made for it? Is nobody looking into "
    "the lights from close by?"
)


def text() -> str:
    """Return the cautions as paragraphs without line ends of their own."""
    return "\n\n".join(" ".join(paragraph.split()) for paragraph in CAUTIONS.strip().split("\n\n"))


def is_real(setup: Setup) -> bool:
    """Return whether packets leave this machine, as far as the plan says."""
    return any(not _is_loopback(each.address, setup.interface) for each in setup.display.controllers)


def _is_loopback(address: str, interface: str | None) -> bool:
    where = (interface or "") if address in GROUPS else address
    if where == "lo":
        return True
    try:
        return ipaddress.ip_address(where).is_loopback
    except ValueError:
        return False
