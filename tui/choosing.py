"""Makes the display that was chosen: from a file, from bare universes, or the sample."""

from pathlib import Path

from streamer.display.model import Display, Protocol
from streamer.engine.messages import Setup
from streamer.errors import PlanError, Problem
from tui.memory import FILE, UNIVERSES, Memory

NO_FILE = Problem(
    "display file",
    "no file is named",
    "Type its name, or choose universes or the sample at the top. A new file: ropewalk new display.toml",
)


def display_of(chosen: Memory) -> Display:
    """Return the display that was chosen. Raises PlanError with everything that is wrong with it."""
    if chosen.source == FILE:
        from streamer.display.file import load

        if not chosen.display_file:
            raise PlanError([NO_FILE])
        return load(Path(chosen.display_file).expanduser())
    if chosen.source == UNIVERSES:
        return _of_universes(chosen)
    from streamer.display.sample import sample_display

    return sample_display()


def setup_of(chosen: Memory, before: Setup | None) -> Setup:
    """Return the setup on the chosen display and interface, otherwise as before. Raises PlanError."""
    display, interface = display_of(chosen), chosen.interface or None
    if before is None:
        return Setup(display=display, interface=interface)
    return before.model_copy(update={"display": display, "interface": interface})


def _of_universes(chosen: Memory) -> Display:
    from streamer.display.ranges import display_from_ranges, parse_ranges

    protocol = Protocol(chosen.protocol)
    addresses = tuple(each.strip() for each in chosen.address.split(","))
    return display_from_ranges(
        parse_ranges(chosen.universes, protocol), protocol, addresses, chosen.nodes_per_universe
    )
