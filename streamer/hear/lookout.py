"""Looks out for other sources of what we send: conflicts as they come, last and go.

It takes nothing from others; where nobody can listen, what is sent goes on all the same.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from uuid import UUID

from streamer.display.model import Protocol
from streamer.display.patch import Stream
from streamer.hear.client import start
from streamer.hear.conflicts import Conflict, Key, Ours, briefs, conflicts, sentences
from streamer.hear.episodes import Episode, Episodes, ends
from streamer.hear.keeper import Keeper, Start, Wanted
from streamer.hear.messages import Heard, Watch
from streamer.hear.where import leaves_by
from streamer.net.destinations import is_loopback
from streamer.net.interfaces import list_interfaces
from streamer.wire.e131 import DATA_LOSS_TIMEOUT_S

TOLD_MAX = 64
"""After so many sentences a person has heard enough; what lasts is shown all the same."""

Universes = Mapping[Protocol, tuple[int, ...]]


class Lookout:
    """What others send on our universes, heard by a listener in a process of its own.

    `client` says for whom, in words; `name` is that of the listeners, which get a number each. Call `look`
    some times a second, with the time on any steady clock. Close it in the end: then nothing goes on.
    """

    def __init__(self, client: str, name: str, start_listener: Start = start) -> None:
        self._keeper = Keeper(client, name, start_listener)
        self._episodes = Episodes()
        self._ours = Ours("", frozenset(), {})
        self._interface: str | None = None
        self._joined_by: tuple[str, ...] = ()
        self._shown: Universes | None = None
        self._discover = False
        self._watched = Watch(universe=None)
        self._seen: Heard | None = None
        self._told = 0

    def send(self, streams: Iterable[Stream], interface: str | None) -> None:
        """Say what we send, and by which interface; what stays on this machine needs no lookout."""
        # Nothing but this machine reaches its own loopback, and runs of this user are looked up.
        outward = [stream for stream in streams if not is_loopback(stream.key.address)]
        priorities: dict[Key, int] = {
            (stream.key.protocol, stream.key.universe): stream.controller.priority for stream in outward
        }
        self._ours, self._interface = replace(self._ours, priorities=priorities), interface
        # The system knows one interface for all groups, or without a default route none.
        self._joined_by = () if interface else leaves_by(None, outward)
        self._want()

    def know(self, cid: str) -> None:
        """Take what carries this CID for ours; without one ("") nothing of ours is sent."""
        self._ours = replace(self._ours, cid=cid)
        self._want()

    def show(self, universes: Universes | None, *, discover: bool = False) -> None:
        """Hear everything, these universes and our own packets too, even while nothing is sent.

        With `discover` also what sources announce. None shows nothing any more.
        """
        self._shown, self._discover = universes, discover
        self._want()

    def watch(self, watched: Watch) -> None:
        """Look closely at a universe and a slot, or at none."""
        self._watched = watched
        self._want()

    @property
    def heard(self) -> Heard | None:
        """All that was heard last; None while nobody listens."""
        return self._keeper.heard

    @property
    def cid(self) -> str:
        """What our packets carry; "" while nothing of ours is sent."""
        return self._ours.cid

    @property
    def trouble(self) -> str:
        """Why others are not listened for, in words; empty while they are."""
        return self._keeper.trouble

    @property
    def lasting(self) -> tuple[Conflict, ...]:
        """The conflicts that last."""
        return self._episodes.lasting

    @property
    def sentences(self) -> tuple[str, ...]:
        """The conflicts that last, a sentence for each other source."""
        return tuple(sentences(self._episodes.lasting))

    @property
    def briefs(self) -> tuple[str, ...]:
        """The same for a line on a screen, the gravest first."""
        return tuple(briefs(self._episodes.lasting))

    @property
    def episodes(self) -> tuple[Episode, ...]:
        """Every conflict that is or was, with its times on the caller's clock; bounded."""
        return self._episodes.all()

    def look(self, now: float) -> tuple[str, ...]:
        """Take in what was heard; return sentences: conflicts that are new or over, and trouble."""
        news = tuple(self._news(now))[: max(0, TOLD_MAX - self._told)]
        self._told += len(news)
        return news

    def renew(self) -> None:
        """Have another listener: memberships go with an interface, and are not in one made anew."""
        self._keeper.renew()

    def close(self) -> None:
        """Let nothing go on."""
        self._keeper.close()

    def _news(self, now: float) -> Iterator[str]:
        said = tuple(self._keeper.look(now))
        heard = self._keeper.heard
        # While one listener takes the place of another, what lasted is not over.
        is_deaf = heard is None and (bool(self._keeper.trouble) or self._wanted() is None)
        if is_deaf or (heard is not None and heard is not self._seen):
            self._seen = heard
            new, over = self._episodes.note(self._there(heard) if heard else (), now)
            yield from sentences(new)
            yield from ends(over, self._episodes.lasting)
        yield from said

    def _there(self, heard: Heard) -> tuple[Conflict, ...]:
        """Return the conflicts of this moment; none is over until a new listener should have heard it.

        A source whose picture stands still is silent for a second at a time.
        """
        found = self._found(heard)
        if heard.seconds >= DATA_LOSS_TIMEOUT_S:
            return found
        whose = {each.whose for each in found}
        return (*found, *(each for each in self._episodes.lasting if each.whose not in whose))

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

    def _want(self) -> None:
        self._keeper.want(self._wanted())

    def _wanted(self) -> Wanted | None:
        sent = self._ours.priorities if self._ours.cid else {}
        if self._shown is None and not sent:
            return None
        is_all = self._shown is not None
        shown = self._shown or {}
        universes = {
            each: tuple(sorted({*shown.get(each, ()), *(number for key, number in sent if key is each)}))
            for each in Protocol
        }
        return Wanted(
            universes,
            frozenset(Protocol if is_all else (each for each, _ in sent)),
            self._interface,
            self._joined_by,
            None if is_all or not self._ours.cid else UUID(self._ours.cid),
            discover=is_all and self._discover,
            watched=self._watched,
        )
