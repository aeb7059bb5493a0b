"""A datagram as a capture has it: when it passed, from where, to where, and what it holds."""

from dataclasses import dataclass

from streamer.net.destinations import Destination


@dataclass(frozen=True, slots=True)
class Datagram:
    """One UDP datagram."""

    stamp_ns: int
    """Nanoseconds since 1970, UTC."""
    source: Destination
    destination: Destination
    octets: bytes
    """What UDP carries, without its header."""
