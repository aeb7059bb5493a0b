"""What the screen remembers from one evening to the next. Never whether to transmit."""

import os
import tempfile
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from streamer.display.model import MULTICAST, Protocol
from streamer.link.folders import config_folder
from tui.themes import NIGHT

FILE_NAME = "screen.json"
LONGEST_OCTETS = 2**16
FILE, UNIVERSES, SAMPLE = "file", "universes", "sample"
SOURCES = (FILE, UNIVERSES, SAMPLE)
"""Where a display comes from."""
NODES_PER_UNIVERSE = 170
"""RGB nodes that fit whole into the 512 slots of a universe (ANSI E1.11)."""


class Memory(BaseModel):
    """The last choices; unknown keys, of a later version perhaps, are passed over."""

    model_config = ConfigDict(extra="ignore")

    theme: str = NIGHT
    source: Literal["", "file", "universes", "sample"] = ""
    """Empty until something was chosen."""
    display_file: str = ""
    universes: str = "1-4"
    protocol: Protocol = Protocol.E131
    address: str = MULTICAST
    nodes_per_universe: int = NODES_PER_UNIVERSE
    interface: str = ""
    pattern: str = ""
    eyes: Literal["six", "three", "lit"] = "six"
    """Which colours the person tells apart, in a search."""


def recall() -> tuple[Memory, str]:
    """Return what was kept, and in words what was wrong with it; a fresh memory if it cannot be read."""
    path = config_folder() / FILE_NAME
    try:
        with path.open("rb") as file:
            return Memory.model_validate_json(file.read(LONGEST_OCTETS)), ""
    except FileNotFoundError:
        return Memory(), ""
    except (OSError, ValidationError):
        return Memory(), f"{path}: the last choices cannot be read, so the screen starts afresh."


def keep(memory: Memory) -> None:
    """Write the memory whole or not at all. Raises OSError or LinkError."""
    folder = config_folder()
    handle, name = tempfile.mkstemp(dir=folder, prefix=FILE_NAME)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(memory.model_dump_json(indent=2))
        Path(name).replace(folder / FILE_NAME)
    except OSError:
        Path(name).unlink(missing_ok=True)
        raise
