"""A quiet ear beside a run of `ropewalk send`: says when another source sends one of its universes.

It hears what is sent to groups, to everybody and to this machine; it takes nothing from others, and where it
cannot listen the run goes on without it.
"""

import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from uuid import UUID

from streamer.display.model import Protocol
from streamer.display.patch import Stream
from streamer.errors import RopewalkError
from streamer.hear.conflicts import Ours, conflicts, sentences
from streamer.hear.ears import Ears
from streamer.hear.table import Table
from streamer.net.destinations import is_loopback
from streamer.net.interfaces import find_interface, list_interfaces
from streamer.wire.acn import CID_OCTET

LOOK_S = 1.0
TOLD_MAX = 64
"""After so many conflicts a person has heard enough."""


class Beside:
    """Listens for other sources of these streams; close it in the end."""

    def __init__(self, streams: Sequence[Stream], interface: str | None) -> None:
        self.trouble = ""
        """Why it cannot listen, in words; empty when it does."""
        self._priorities = {
            (stream.key.protocol, stream.key.universe): stream.controller.priority
            for stream in streams
            # Nothing but this machine reaches its own loopback, and runs of this user are looked up.
            if not is_loopback(stream.key.address)
        }
        self._cid = ""
        self._told: set[object] = set()
        self._stack = ExitStack()
        self._looked_s = time.monotonic()
        self._addresses = frozenset(
            each.address for interface in list_interfaces() for each in interface.addresses
        )
        self._ears = self._open(interface)

    def know(self, cid: str) -> None:
        """Pass over what carries this CID: it is ours."""
        self._cid = cid
        listener = self._ears.listeners.get(Protocol.E131) if self._ears else None
        if listener:
            listener.ignore(CID_OCTET, UUID(cid).bytes)

    def news(self) -> Iterator[str]:
        """Take in what waits, and once a second yield a sentence for each conflict not told before."""
        if self._ears is None or not self._cid:
            return
        try:
            self._ears.poll()
        except RopewalkError as error:
            self._ears = None
            yield f"Other sources are no longer listened for. {error}"
            return
        now = time.monotonic()
        if now - self._looked_s < LOOK_S:
            return
        self._looked_s = now
        self._ears.table.close_window(now)
        ours = Ours(self._cid, self._addresses, self._priorities)
        found = conflicts(ours, self._ears.table.heard([], now))
        new = tuple(each for each in found if each.key not in self._told)
        if new and len(self._told) < TOLD_MAX:
            self._told.update(each.key for each in new)
            yield from sentences(new)

    def close(self) -> None:
        """Free the ports."""
        self._stack.close()

    def _open(self, name: str | None) -> Ears | None:
        if not self._priorities:
            return None
        protocols = sorted({protocol for protocol, _ in self._priorities})
        asked = {
            protocol: tuple(universe for each, universe in self._priorities if each is protocol)
            for protocol in protocols
        }
        try:
            ears = Ears(Table(asked, self._looked_s), find_interface(name) if name else None)
            ears.open(self._stack, protocols)
        except RopewalkError as error:
            self._stack.close()
            self.trouble = f"Other sources are not listened for. {error}"
            return None
        return ears
