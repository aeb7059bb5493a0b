"""Universe discovery: says on the network which universes a source sends. Time is an argument."""

import math
from collections.abc import Iterable, Sequence
from uuid import UUID

from streamer.display.model import Protocol
from streamer.display.patch import StreamKey
from streamer.net.sender import Sender
from streamer.wire import e131

DESTINATION = (e131.multicast_group(e131.DISCOVERY_UNIVERSE), e131.PORT)


class Discovery:
    """Sends every page once in 10 s, to the group of universe 64214 (ANSI E1.31-2018 clauses 4.3 and 8)."""

    def __init__(self, cid: UUID, source_name: str, start_s: float) -> None:
        self._cid = cid
        self._source_name = source_name
        self.wake_s = start_s

    def tick(self, keys: Iterable[StreamKey], senders: Sequence[Sender], now_s: float) -> None:
        """Send what is due at `now_s`: the E1.31 universes among these streams, sorted, each once."""
        if now_s < self.wake_s:
            return
        passed = math.floor((now_s - self.wake_s) / e131.DISCOVERY_INTERVAL_S)
        self.wake_s += (passed + 1) * e131.DISCOVERY_INTERVAL_S
        universes = sorted({key.universe for key in keys if key.protocol is Protocol.E131})
        for page in e131.discovery_pages(self._cid, self._source_name, universes):
            for sender in senders:
                sender.send_one(page.encode(), DESTINATION)
