"""Looks out, by a listener in a process of its own, for other sources of what we send.

It never waits: the listener comes up meanwhile, and `look` takes in what it has said. It takes nothing from
others; where nobody can listen, what is sent goes on all the same, and `trouble` says why.
"""

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from uuid import UUID

from streamer.display.model import Protocol
from streamer.display.patch import Stream
from streamer.errors import LinkError, RopewalkError
from streamer.hear.client import HearLink, start
from streamer.hear.conflicts import Conflict, Ours, briefs, conflicts, sentences
from streamer.hear.episodes import Episode, Episodes, ends
from streamer.hear.messages import Close, Heard, Ignore, Listen
from streamer.hear.wish import Wish
from streamer.net.destinations import is_loopback
from streamer.net.interfaces import list_interfaces

SILENT_S = 5.0
"""A listener tells once a second; one that is silent for so long is stopped or hangs."""
AGAIN_S = 30.0
"""After so long another listener is tried where the last one failed."""
TOLD_MAX = 64
"""After so many sentences a person has heard enough; what lasts is shown all the same."""

Start = Callable[[Wish, str, str], HearLink]


@dataclass
class Lookout:
    """What others send on our universes. Close it in the end: then nothing goes on."""

    client: str
    """For whom, in words."""
    name: str
    """Of its listeners, made different by a number."""
    start: Start = start
    heard: Heard | None = None
    """All that the listener heard last."""
    trouble: str = ""
    """Why others are not listened for, in words; empty while they are."""
    _ours: Ours = field(default_factory=lambda: Ours("", frozenset(), {}))
    _interface: str | None = None
    _protocols: frozenset[Protocol] = frozenset()
    _wants_all: bool = False
    _link: HearLink | None = None
    _coming: Future[HearLink] | None = None
    _episodes: Episodes = field(default_factory=Episodes)
    _heard_s: float = 0.0
    _again_s: float = 0.0
    _starts: int = 0
    _told: int = 0

    def send(self, streams: Iterable[Stream], interface: str | None) -> None:
        """Say what we send, and by which interface; what stays on this machine needs no lookout."""
        priorities = {
            (stream.key.protocol, stream.key.universe): stream.controller.priority
            for stream in streams
            # Nothing but this machine reaches its own loopback, and runs of this user are looked up.
            if not is_loopback(stream.key.address)
        }
        if interface != self._interface:
            self._interface = interface
            self._leave()
            self._again_s = 0.0
        before, self._ours = self._ours, replace(self._ours, priorities=priorities)
        if priorities.keys() != before.priorities.keys():
            self._ask()

    def know(self, cid: str) -> None:
        """Take what carries this CID for ours."""
        if cid != self._ours.cid:
            self._ours = replace(self._ours, cid=cid)
            self._ask()

    def want_all(self, *, on: bool) -> None:
        """Listen for everything, our own packets too, even while we send nothing; or no longer."""
        if on != self._wants_all:
            self._wants_all, self._again_s = on, 0.0
            self._ask()

    @property
    def link(self) -> HearLink | None:
        """The listener, once it is there, for what else is to be asked of it."""
        return self._link

    @property
    def sentences(self) -> tuple[str, ...]:
        """What lasts, a sentence for each other source."""
        return tuple(sentences(self._episodes.lasting))

    @property
    def briefs(self) -> tuple[str, ...]:
        """The same for a line on a screen, the gravest first."""
        return tuple(briefs(self._episodes.lasting))

    @property
    def episodes(self) -> tuple[Episode, ...]:
        """Every conflict that was, with its times on the caller's clock; at most 256 that are over."""
        return self._episodes.all()

    def look(self, now: float) -> tuple[str, ...]:
        """Take in what was heard, and return sentences: conflicts that are new or over, and trouble."""
        news: list[str] = []
        if not self._is_wanted:
            self._leave()
            news += self._note((), now)
        elif self._coming is not None:
            news += self._meet(self._coming, now)
        elif self._link is None:
            if now >= self._again_s:
                self._begin()
        else:
            news += self._listen(self._link, now)
        kept = news[: max(0, TOLD_MAX - self._told)]
        self._told += len(kept)
        return tuple(kept)

    @property
    def _is_wanted(self) -> bool:
        return self._wants_all or bool(self._ours.cid and self._ours.priorities)

    def _begin(self) -> None:
        self._starts += 1
        self._protocols = self._wanted_protocols
        wish = Wish(
            universes=self._universes(), protocols=tuple(sorted(self._protocols)), interface=self._interface
        )
        pool = ThreadPoolExecutor(1)
        self._coming = pool.submit(self.start, wish, self.client, f"{self.name}-{self._starts}")
        pool.shutdown(wait=False)

    def _meet(self, coming: Future[HearLink], now: float) -> Iterator[str]:
        if not coming.done():
            return
        self._coming = None
        try:
            link = coming.result()
        except RopewalkError as error:
            yield from self._fail(f"Other sources are not listened for. {error}", now)
            return
        self._link, self._heard_s = link, now
        self._ask()
        if self.trouble:
            self.trouble = ""
            yield "Other sources are listened for again."

    def _listen(self, link: HearLink, now: float) -> Iterator[str]:
        reports: list[Heard] = []
        try:
            link.flush()
            reports = [each for each in link.receive() if isinstance(each, Heard)]
        except LinkError:
            link.close()
        if reports:
            self.heard, self._heard_s = reports[-1], now
            yield from self._note(self._found(reports[-1]), now)
        if not link.is_open or now - self._heard_s >= SILENT_S:
            self._leave()
            yield from self._note((), now)
            yield from self._fail("The listener has gone: other sources are not listened for just now.", now)

    def _found(self, heard: Heard) -> tuple[Conflict, ...]:
        if not self._ours.cid:
            return ()
        found = conflicts(self._ours, heard)
        if any(conflict.universe.protocol is Protocol.ARTNET for conflict in found):
            # Art-Net sources are known by address alone, and ours may be another than before.
            own = frozenset(each.address for every in list_interfaces() for each in every.addresses)
            self._ours = replace(self._ours, addresses=own)
            found = conflicts(self._ours, heard)
        return found

    def _note(self, found: Iterable[Conflict], now: float) -> Iterator[str]:
        new, over = self._episodes.note(found, now)
        yield from sentences(new)
        yield from ends(over, self._episodes.lasting)

    def _fail(self, reason: str, now: float) -> Iterator[str]:
        self._again_s = now + AGAIN_S
        if reason != self.trouble:
            self.trouble = reason
            yield reason

    def _universes(self) -> dict[Protocol, tuple[int, ...]]:
        keys = sorted(self._ours.priorities)
        return {each: tuple(universe for key, universe in keys if key is each) for each in Protocol}

    @property
    def _wanted_protocols(self) -> frozenset[Protocol]:
        """Those whose ports are needed: no other is taken."""
        return frozenset(Protocol if self._wants_all else (each for each, _ in self._ours.priorities))

    def _ask(self) -> None:
        """Ask the listener for what is wanted now; for another port it takes another listener."""
        if not self._wanted_protocols <= self._protocols:
            self._leave()
            return
        link = self._link
        if link is None:
            return
        for protocol, universes in self._universes().items():
            link.send(Listen(protocol=protocol, universes=universes))
        is_ours_passed_over = bool(self._ours.cid) and not self._wants_all
        link.send(Ignore(cid=UUID(self._ours.cid) if is_ours_passed_over else None))

    def _leave(self) -> None:
        """End the listener, the one that is still coming up as well."""
        link, self._link = self._link, None
        if link is not None:
            _end(link)
        coming, self._coming = self._coming, None
        if coming is not None:
            coming.add_done_callback(_end_what_came)
        self.heard = None

    def close(self) -> None:
        """Let nothing go on."""
        self._leave()


def _end(link: HearLink) -> None:
    link.send(Close())
    link.close()


def _end_what_came(coming: Future[HearLink]) -> None:
    if coming.exception() is None:
        _end(coming.result())
