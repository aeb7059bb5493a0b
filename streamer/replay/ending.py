"""How the streams of a capture end, wherever it was broken off: dark, then terminated where that is known."""

from collections.abc import Iterator

from streamer.net.destinations import Destination
from streamer.replay.contents import Levels, Stream, darkened, has_levels, is_end, terminated
from streamer.wire.e131 import REPEATS_BEFORE_QUIET, TERMINATED_PACKETS, DataPacket

STREAMS_MAX = 8_192
"""That are ended dark; a capture with more is no display's."""


class OpenStreams:
    """The streams that were begun and not ended, each with its last packet."""

    def __init__(self) -> None:
        self._last: dict[Stream, tuple[Levels, Destination]] = {}

    def note(self, stream: Stream, packet: Levels, destination: Destination) -> None:
        """Take note of a packet that was sent."""
        if is_end(packet):
            self._last.pop(stream, None)
        elif has_levels(packet) and (stream in self._last or len(self._last) < STREAMS_MAX):
            self._last[stream] = packet, destination

    def last_packets(self) -> Iterator[list[tuple[bytes, Destination]]]:
        """Yield the last packets, those together that go at one moment.

        ANSI E1.31-2018 clause 6.6.2 asks for a change to be sent once and three times more, clause 6.2.6 for
        three packets with Stream_Terminated.
        """
        for _ in range(1 + REPEATS_BEFORE_QUIET):
            self._last = {
                stream: (darkened(packet), destination)
                for stream, (packet, destination) in self._last.items()
            }
            yield self._encoded()
        for _ in range(TERMINATED_PACKETS):
            self._last = {
                stream: (terminated(packet), destination)
                for stream, (packet, destination) in self._last.items()
                if isinstance(packet, DataPacket)
            }
            yield self._encoded()

    def _encoded(self) -> list[tuple[bytes, Destination]]:
        return [(packet.encode(), destination) for packet, destination in self._last.values()]
