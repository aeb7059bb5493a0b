"""What sources say about themselves beside their levels: lists of universes, and synchronization.

ANSI E1.31-2018 clauses 8 and 11. Bounded, since anybody may announce anything.
"""

from dataclasses import dataclass, field

from streamer.wire.e131 import DATA_LOSS_TIMEOUT_S, DISCOVERY_INTERVAL_S, DiscoveryPacket

ANNOUNCERS_MAX = 64
PAGES_MAX = 8
"""4,096 universes of one source, more than any display sends."""
ADDRESSES_MAX = 256
SILENT_S = 3 * DISCOVERY_INTERVAL_S
"""A list that was not repeated for so long has ended: clause 12.2 gives a source two intervals."""


@dataclass(slots=True)
class Announcer:
    """A source, and the pages of its list, the pages of an earlier one kept until each is sent anew."""

    cid: str
    address: str
    name: str
    heard_s: float
    pages: dict[int, tuple[int, ...]] = field(default_factory=dict)
    last_page: int = 0

    @property
    def is_whole(self) -> bool:
        """Whether every page of the list was heard, as far as pages are kept."""
        return all(page in self.pages for page in range(min(self.last_page + 1, PAGES_MAX)))

    def universes(self) -> tuple[int, ...]:
        """Return the pages joined."""
        return tuple(sorted({universe for page in self.pages.values() for universe in page}))


class Announcements:
    """The lists of universes that are announced, and the synchronization addresses that are in use."""

    def __init__(self) -> None:
        self._announcers: dict[str, Announcer] = {}
        self._synchronized_s: dict[int, float] = {}

    def announce(self, packet: DiscoveryPacket, address: str, now: float) -> None:
        """Take a page of a list of universes."""
        cid = str(packet.cid)
        announcer = self._announcers.get(cid)
        if announcer is None:
            if len(self._announcers) >= ANNOUNCERS_MAX:
                del self._announcers[min(self._announcers, key=lambda each: self._announcers[each].heard_s)]
            announcer = self._announcers[cid] = Announcer(cid, address, packet.source_name, now)
        announcer.address, announcer.name, announcer.heard_s = address, packet.source_name, now
        if packet.page < PAGES_MAX:
            announcer.pages[packet.page] = packet.universes
        announcer.last_page = packet.last_page
        for page in [page for page in announcer.pages if page > packet.last_page]:
            del announcer.pages[page]

    def synchronize(self, sync_address: int, now: float) -> None:
        """Note that levels held for an address were released."""
        if sync_address not in self._synchronized_s and len(self._synchronized_s) >= ADDRESSES_MAX:
            del self._synchronized_s[min(self._synchronized_s, key=lambda each: self._synchronized_s[each])]
        self._synchronized_s[sync_address] = now

    def is_synchronized(self, sync_address: int, now: float) -> bool:
        """Say whether synchronization packets for an address come (clause 11: they are lost after 2.5 s)."""
        heard_s = self._synchronized_s.get(sync_address)
        return heard_s is not None and now - heard_s < DATA_LOSS_TIMEOUT_S

    def lists(self, now: float) -> list[Announcer]:
        """Return the lists that are still repeated."""
        return [each for each in self._announcers.values() if now - each.heard_s < SILENT_S]
