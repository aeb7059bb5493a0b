"""Everything that is heard, of both protocols, and one snapshot of it for whoever wants to know.

Time is an argument: seconds on any steady clock. It knows no socket; what sockets say of themselves is given.
"""

from collections.abc import Iterable, Mapping

from streamer.display.model import Protocol
from streamer.display.numbering import universe_text
from streamer.hear.book import Book
from streamer.hear.messages import Announced, Heard, SocketHeard, Standing, UniverseHeard, Watched
from streamer.hear.notes import notes
from streamer.hear.standing import standings
from streamer.hear.streams import Stream
from streamer.hear.telling import claims, names, source_heard
from streamer.net.arrivals import Arrivals
from streamer.wire.sources import merge_highest

Asked = Mapping[Protocol, tuple[int, ...]]
Key = tuple[Protocol, int]

RANK = {Standing.WINS: 0, Standing.SHARES: 1, Standing.OUTRANKED: 2, Standing.NONE: 3}


class Table:
    """The state of a listener. `close_window` about once a second, before `heard`."""

    def __init__(self, asked: Asked, now: float, interface: str = "", *, discover: bool = False) -> None:
        self.books = {protocol: Book(protocol) for protocol in Protocol}
        self._asked = {protocol: frozenset(asked.get(protocol, ())) for protocol in Protocol}
        self._interface = interface
        self.discover = discover
        """Whether what universe discovery announces is asked for as well."""
        self._began_s = now
        self.window_s = now
        """When the rates were worked out."""
        self._watched: tuple[Protocol, int, int | None] | None = None

    def ask(self, protocol: Protocol, universes: Iterable[int]) -> None:
        """Ask for these universes instead of those before."""
        self._asked[protocol] = frozenset(universes)

    def asked(self, protocol: Protocol) -> frozenset[int]:
        """Return the universes that are asked for."""
        return self._asked[protocol]

    def announced(self, now: float) -> frozenset[int]:
        """Return the universes that universe discovery announces."""
        lists = self.books[Protocol.E131].announcements.lists(now)
        return frozenset(universe for each in lists for universe in each.universes())

    def take(self, protocol: Protocol, arrivals: Arrivals, now: float) -> None:
        """Take in datagrams that were read by now from the protocol's port, oldest first."""
        self.books[protocol].take(arrivals, now)

    def watch(self, protocol: Protocol, universe: int | None, slot: int | None) -> None:
        """Look closely at a universe and a slot, or at none."""
        for book in self.books.values():
            book.unwatch()
        self._watched = None if universe is None else (protocol, universe, slot)

    def close_window(self, now: float) -> None:
        """Work out rates of the time since the last call, and forget what has long gone."""
        seconds = now - self.window_s
        if seconds > 0:
            self.window_s = now
            for book in self.books.values():
                book.ledger.close_window(seconds)
                book.streams.expire(now)
        self._follow(now)

    def levels(self, protocol: Protocol, universe: int, now: float) -> bytes:
        """Return the levels of what wins, the highest of several that share; b"" where nothing is live."""
        book = self.books[protocol]
        streams = book.streams.of(universe)
        standing = standings(claims(book, streams, now), names(streams))
        winners = [
            book.ledger.levels[stream.row, : book.streams.facts_of(stream).slots].tobytes()
            for stream, how in zip(streams, standing, strict=True)
            if RANK[how] <= RANK[Standing.SHARES]
        ]
        return merge_highest(winners) or b""

    def heard(self, sockets: Iterable[SocketHeard], now: float, troubles: Iterable[str] = ()) -> Heard:
        """Return all that is heard by now; `sockets` as they see themselves, `troubles` what is not heard."""
        told = tuple(sockets)
        universes = tuple(self._universes(now))
        return Heard(
            seconds=now - self._began_s,
            interface=self._interface,
            universes=universes,
            sockets=told,
            announced=tuple(self._announced(now)),
            watched=self._look(now),
            notes=(*troubles, *notes(universes, told)),
        )

    def _universes(self, now: float) -> Iterable[UniverseHeard]:
        for protocol, book in self.books.items():
            for number in sorted(self._asked[protocol].union(book.streams.universes())):
                streams = book.streams.of(number)
                standing = standings(claims(book, streams, now), names(streams))
                sources = [
                    source_heard(book, stream, how, now)
                    for stream, how in zip(streams, standing, strict=True)
                ]
                yield UniverseHeard(
                    protocol=protocol,
                    universe=number,
                    text=universe_text(protocol, number),
                    is_asked=number in self._asked[protocol],
                    sources=tuple(sorted(sources, key=lambda each: RANK[each.standing])),
                )

    def _announced(self, now: float) -> Iterable[Announced]:
        for each in self.books[Protocol.E131].announcements.lists(now):
            yield Announced(name=each.name, cid=each.cid, address=each.address, universes=each.universes())

    def _look(self, now: float) -> Watched | None:
        if self._watched is None:
            return None
        protocol, universe, slot = self._watched
        return Watched(
            protocol=protocol,
            universe=universe,
            slot=slot,
            levels=tuple(self.levels(protocol, universe, now)),
            history=tuple(
                (heard_s - self._began_s, level) for heard_s, level in self.books[protocol].history
            ),
        )

    def _follow(self, now: float) -> None:
        """Keep the history of the watched slot from the source that wins, the first of several."""
        if self._watched is None or self._watched[2] is None:
            return
        protocol, universe, slot = self._watched
        winner = self._winner(protocol, universe, now)
        if winner is not None and slot is not None:
            self.books[protocol].watch(winner.row, slot)

    def _winner(self, protocol: Protocol, universe: int, now: float) -> Stream | None:
        book = self.books[protocol]
        streams = book.streams.of(universe)
        standing = standings(claims(book, streams, now), names(streams))
        return next(
            (
                stream
                for stream, how in zip(streams, standing, strict=True)
                if RANK[how] <= RANK[Standing.SHARES]
            ),
            None,
        )
