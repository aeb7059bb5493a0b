"""What is played: the setup of a run, and the show that may change while it goes on."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from streamer.display.model import Display

LEVEL_DEFAULT_PERCENT = 30.0
LOOK_LOW_PERCENT = 1.0
"""Of a look that a person is asked about: below that, "nothing is lit" would say nothing of the wiring."""
RATE_DEFAULT_HZ = 40.0
RATE_LOW_HZ = 1.0
RATE_HIGH_HZ = 44.0
"""A full DMX512-A packet of 512 slots takes 22.7 ms at the least (ANSI E1.11): 44.1 a second, which is
also what ANSI E1.31-2018 clause 6.6.1 and Art-Net 4 allow a source to send to one universe."""

SYNC_GAP_DEFAULT_MS = 1.0
"""ANSI E1.31-2018 clause 11.2.2 asks for a small one: receivers may still be taking in the levels."""
SYNC_GAP_MAX_MS = 20.0
"""Shorter than a frame at the highest rate."""


FLASHES_MOST_PER_S = int(RATE_HIGH_HZ / 2)
"""A light that changes with every frame."""
WORD_CHARACTERS = 80


class Message(BaseModel):
    """A frozen message; unknown keys are errors."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Leash(StrEnum):
    """What becomes of a run when nobody is attached any more who has asked for control."""

    LEASHED = "leashed"
    """Dark, streams ended, after a short grace: work by hand."""
    FREE = "free"
    """It goes on by itself."""


class Setup(Message):
    """What a run is set up on: where its packets go and how."""

    display: Display
    as_hung: Display | None = None
    """The display as it hangs, while the lights are lent to a guided search or walk, which may play a lay-out
    of its own as `display`. None otherwise."""
    interface: str | None = None
    """Name or address; without one the operating system chooses for each destination."""
    ttl: Annotated[int, Field(ge=0, le=255)] = 1
    source_name: Annotated[str, Field(max_length=63)] = "Ropewalk"
    every_frame: bool = False
    """Send every frame to every universe, whether it changed or not (against E1.31 6.6.2)."""
    spread: Annotated[float, Field(ge=0, le=0.9)] | None = None
    """Which part of a frame its packets are spread over; 0 is all at once. Without one, frames of more than
    100 packets are spread over 10 ms."""
    sync_gap_ms: Annotated[float, Field(ge=0, le=SYNC_GAP_MAX_MS)] = SYNC_GAP_DEFAULT_MS
    """Between a frame's last packet and the synchronization packet, where a controller is to have one."""
    seconds: Annotated[float, Field(gt=0)] | None = None
    """How long to play; then dark and end."""
    record: Path | None = None
    """A new capture file, absolute, that keeps what is sent."""
    leash: Leash = Leash.LEASHED
    flashes_per_s: Annotated[int, Field(ge=1, le=FLASHES_MOST_PER_S)] | None = None
    """The most in any second; without one what the display says. More than three need the word."""
    understood: Annotated[str, Field(max_length=WORD_CHARACTERS)] = ""
    """The word that a person typed for that (streamer.engine.flash_limit); never from a file."""


class Show(Message):
    """What is to be seen. May change at any moment while the streams go on."""

    pattern: str
    params: dict[str, int | float | bool | str] = {}
    pace: Annotated[float, Field(ge=0)] | None = None
    """Steps a second; 0 is by hand; without one the pattern's own."""
    ports: tuple[str, ...] | None = None
    """Names of the ports that show it, the rest being dark; all without."""
    level_percent: Annotated[float, Field(ge=0, le=100)] = LEVEL_DEFAULT_PERCENT
    rate_hz: Annotated[float, Field(ge=RATE_LOW_HZ, le=RATE_HIGH_HZ)] = RATE_DEFAULT_HZ
