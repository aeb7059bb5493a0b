"""Makes the display that was chosen: from a file, from bare universes, or the sample."""

from contextlib import suppress
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


def open_words(setup: Setup | None, file: Path | None, chosen: Memory) -> str:
    """Return which display is open, and what it is from; `file` is None where no file says the same."""
    if setup is None:
        return "Open now: nothing."
    return f"Open now: {setup.display.name}, {_origin(setup.display, file, chosen)}."


def _origin(display: Display, file: Path | None, chosen: Memory) -> str:
    from streamer.display.sample import sample_display

    if file is not None:
        return f"from {file}"
    if display == sample_display():
        return "the sample, which needs no file; ropewalk new display.toml begins one of your own"
    with suppress(PlanError):
        if chosen.source == UNIVERSES and display == _of_universes(chosen):
            return "made of the universes below, from no file"
    return "from no file, or one changed since"


def with_open(memory: Memory, file: Path | None) -> Memory:
    """Return the choices with the file that is open as the one chosen."""
    if file is None:
        return memory
    return memory.model_copy(update={"source": FILE, "display_file": str(file)})


def found_here(file: Path | None, most: int) -> tuple[str, ...]:
    """Return the names of the display files in this folder, and of the one that is open, wherever it is."""
    found = sorted(Path().glob("*.toml"))[:most]
    is_listed = file is None or any(_is_same(each, file) for each in found)
    return tuple(map(str, found if is_listed else [file, *found]))


def name_among(found: tuple[str, ...], file: Path | None) -> str | None:
    """Return by which of these names the open file is listed."""
    return next((each for each in found if file is not None and _is_same(Path(each), file)), None)


def _is_same(one: Path, other: Path) -> bool:
    return one.resolve() == other.resolve()


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
