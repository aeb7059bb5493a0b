"""Keeps a listener up in a process of its own, and has it listen to what is wanted just now.

It never waits: the listener comes up meanwhile, and `look` takes in what it has told. One that has gone, that
hangs or that could not be had is told of, and another is tried later. Times are the caller's.
"""

from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from uuid import UUID

from streamer.display.model import Protocol
from streamer.errors import LinkError, RopewalkError
from streamer.hear.client import HearLink, start
from streamer.hear.messages import Close, Discover, Heard, Ignore, Listen, Watch
from streamer.hear.wish import Wish

SILENT_S = 5.0
"""A listener tells once a second; one that is silent for so long is stopped or hangs."""
SOON_S = 2.0
"""After so long another listener takes the place of one that has gone."""
AGAIN_S = 30.0
"""After so long another one is tried where none could be had."""
GONE = "The listener has gone: other sources are not listened for just now."
NOT_HAD = "Other sources are not listened for."
BACK = "Other sources are listened for again."

Start = Callable[[Wish, str, str], HearLink]


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be listened to."""

    universes: Mapping[Protocol, tuple[int, ...]]
    protocols: frozenset[Protocol]
    """Whose ports are needed: no other is taken."""
    interface: str | None = None
    joined_by: tuple[str, ...] = ()
    """As a wish has it."""
    ignored: UUID | None = None
    """The CID whose packets are passed over; None hears all."""
    discover: bool = False
    watched: Watch = field(default_factory=lambda: Watch(universe=None))

    def needs_another(self, than: "Wanted") -> bool:
        """Say whether the listener of another wish cannot fulfil this one."""
        mine, theirs = (self.interface, self.joined_by), (than.interface, than.joined_by)
        return mine != theirs or not self.protocols <= than.protocols


class Keeper:
    """One listener at a time, or none. Close it in the end: then nothing goes on."""

    def __init__(self, client: str, name: str, start_listener: Start = start) -> None:
        self.trouble = ""
        """Why nobody listens, in words; empty while somebody does, or is not wanted."""
        self.heard: Heard | None = None
        """All that was heard last."""
        self._client, self._name, self._start = client, name, start_listener
        self._wanted: Wanted | None = None
        self._has: Wanted | None = None
        self._link: HearLink | None = None
        self._coming: Future[HearLink] | None = None
        self._heard_s = self._again_s = 0.0
        self._starts = 0

    @property
    def is_there(self) -> bool:
        """Whether a listener is up."""
        return self._link is not None

    def want(self, wanted: Wanted | None) -> None:
        """Say what is to be listened to from now on; None ends the listener."""
        self._wanted = wanted
        if wanted is None or (self._has is not None and wanted.needs_another(self._has)):
            self.renew()
        elif self._link is not None and wanted != self._has:
            self._ask(self._link, wanted)

    def renew(self) -> None:
        """End the listener; the next look begins another, if one is wanted."""
        self.close()
        self.trouble, self._again_s = "", 0.0

    def look(self, now: float) -> Iterator[str]:
        """Take in what was heard since the last time; yield what is to be said of the listener itself."""
        if self._coming is not None:
            yield from self._meet(self._coming, now)
        elif self._link is not None:
            yield from self._listen(self._link, now)
        elif self._wanted is not None and now >= self._again_s:
            self._begin(self._wanted)

    def close(self) -> None:
        """End the listener, one that is still coming up as well."""
        link, coming = self._link, self._coming
        self._link = self._coming = self._has = self.heard = None
        if link is not None:
            _end(link)
        if coming is not None:
            coming.add_done_callback(_end_what_came)

    def _begin(self, wanted: Wanted) -> None:
        self._starts += 1
        self._has = wanted
        wish = Wish(
            universes=dict(wanted.universes),
            protocols=tuple(sorted(wanted.protocols)),
            interface=wanted.interface,
            joined_by=wanted.joined_by,
            discover=wanted.discover,
        )
        pool = ThreadPoolExecutor(1)
        self._coming = pool.submit(self._start, wish, self._client, f"{self._name}-{self._starts}")
        pool.shutdown(wait=False)

    def _meet(self, coming: Future[HearLink], now: float) -> Iterator[str]:
        if not coming.done():
            return
        self._coming = None
        try:
            self._link = coming.result()
        except RopewalkError as error:
            yield from self._fail(f"{NOT_HAD} {error}", now, AGAIN_S)
            return
        self._heard_s = now
        if self._wanted is not None:
            self._ask(self._link, self._wanted)
        if self.trouble:
            self.trouble = ""
            yield BACK

    def _listen(self, link: HearLink, now: float) -> Iterator[str]:
        try:
            link.flush()
            reports = [each for each in link.receive() if isinstance(each, Heard)]
        except LinkError:
            reports = []
        if reports:
            self.heard, self._heard_s = reports[-1], now
        if not link.is_open or now - self._heard_s >= SILENT_S:
            self.close()
            yield from self._fail(GONE, now, SOON_S)

    def _fail(self, reason: str, now: float, wait_s: float) -> Iterator[str]:
        self._has, self._again_s = None, now + wait_s
        if reason != self.trouble:
            self.trouble = reason
            yield reason

    def _ask(self, link: HearLink, wanted: Wanted) -> None:
        self._has = wanted
        for protocol in wanted.protocols:
            link.send(Listen(protocol=protocol, universes=wanted.universes.get(protocol, ())))
        link.send(Ignore(cid=wanted.ignored))
        link.send(Discover(on=wanted.discover))
        link.send(wanted.watched)


def _end(link: HearLink) -> None:
    link.send(Close())
    link.close()


def _end_what_came(coming: Future[HearLink]) -> None:
    if coming.exception() is None:
        _end(coming.result())
