"""All that a scan has found at one moment."""

from dataclasses import dataclass

from streamer.scan.devices import Device


@dataclass(frozen=True, slots=True)
class Source:
    """An E1.31 source, and the universes that it says it sends (ANSI E1.31-2018 clause 8)."""

    name: str
    """Printable characters only."""
    cid: str
    address: str
    universes: tuple[int, ...]
    """Ascending, its pages joined."""
    is_whole: bool
    """Whether every page was heard."""


@dataclass(frozen=True, slots=True)
class Found:
    """What answers and what announces itself."""

    seconds: float
    """Since the scan began."""
    now_s: float
    """The moment, on the clock of the devices' times."""
    broadcasts: tuple[str, ...]
    """The directed broadcast addresses that were polled."""
    singles: tuple[str, ...]
    """The devices that were polled one by one."""
    polls: int
    """How often."""
    devices: tuple[Device, ...] = ()
    """By address; those gone silent are kept."""
    sources: tuple[Source, ...] = ()
    """By name."""
    notes: tuple[str, ...] = ()
    """What kept the scan from hearing, or was wrong in what it heard, in sentences."""
