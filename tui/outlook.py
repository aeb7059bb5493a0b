"""What the screen hears of others: a lookout beside its run, and everything while that is shown.

It judges nothing: the listener says who sends what, the lookout what is in our way.
"""

import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TYPE_CHECKING

from streamer.display.model import Display, Protocol
from streamer.errors import RopewalkError
from streamer.net.destinations import is_loopback
from tui.talk import Talk

if TYPE_CHECKING:
    from streamer.display.patch import Stream
    from streamer.hear.keeper import Start
    from streamer.hear.lookout import Lookout
    from streamer.hear.messages import Heard

Key = tuple[int, str, str | None]
"""The engine's plan, the pattern, the interface: what the streams that are sent depend on."""


class Outlook:
    """`follow` it some times a second; close it in the end."""

    def __init__(self, client: str, name: str) -> None:
        self.start: Start | None = None
        """What starts a listener; tests give their own."""
        self.clock: Callable[[], float] = time.monotonic
        self._client, self._name = client, name
        self._lookout: Lookout | None = None
        self._sent: Key | None = None
        self._coming: Future[tuple[Stream, ...]] | None = None
        self.is_shown = False
        """Whether everything is shown."""
        self.discover = False
        """Whether what sources announce is listened to as well."""

    @property
    def briefs(self) -> tuple[str, ...]:
        """Who is in our way, a line each, the gravest first."""
        return self._lookout.briefs if self._lookout else ()

    @property
    def heard(self) -> "Heard | None":
        """All that was heard last."""
        return self._lookout.heard if self._lookout else None

    @property
    def cid(self) -> str:
        """What our own packets carry; "" while there are none."""
        return self._lookout.cid if self._lookout else ""

    @property
    def trouble(self) -> str:
        """Why nobody listens."""
        return self._lookout.trouble if self._lookout else ""

    def follow(self, talk: Talk) -> bool:
        """Look out for what the engine sends now; return whether what is shown may differ."""
        self._follow_run(talk)
        if self._lookout is None:
            return False
        before = (self.heard, self.briefs, self.trouble)
        for sentence in self._lookout.look(self.clock()):
            if sentence == self.trouble:
                talk.note(sentence)
            else:
                # A line of its own says it as long as it lasts.
                talk.keep(sentence)
        return before != (self.heard, self.briefs, self.trouble)

    def show(self, display: Display | None, interface: str | None, *, discover: bool) -> None:
        """Hear everything: the display's universes, and with `discover` what sources announce."""
        from streamer.hear.wish import universes_of

        self.is_shown, self.discover = True, discover
        if self._sent is None:
            self._there().send((), interface)
        self._there().show(universes_of(display) if display else {}, discover=discover)

    def hide(self) -> None:
        """Hear no more than the run needs."""
        self.is_shown = False
        if self._lookout:
            self._lookout.show(None)

    def watch(self, protocol: Protocol, universe: int | None, slot: int | None) -> None:
        """Look closely at a universe and a slot, from 1, or at none."""
        from streamer.hear.messages import Watch

        self._there().watch(Watch(protocol=protocol, universe=universe, slot=slot))

    def close(self) -> None:
        """Let nothing go on."""
        if self._lookout:
            self._lookout.close()

    def _there(self) -> "Lookout":
        if self._lookout is None:
            from streamer.hear.client import start
            from streamer.hear.lookout import Lookout

            self._lookout = Lookout(self._client, self._name, self.start or start)
        return self._lookout

    def _follow_run(self, talk: Talk) -> None:
        wanted = self._key(talk)
        if wanted != self._sent:
            self._sent, self._coming = wanted, None
            if wanted is not None and talk.plan is not None:
                # A large display takes a moment to lay out; the screen goes on meanwhile.
                pool = ThreadPoolExecutor(1)
                self._coming = pool.submit(_streams, talk.plan.setup.display, wanted[1])
                pool.shutdown(wait=False)
            elif self._lookout:
                self._lookout.know("")
        if self._coming is not None and self._coming.done() and talk.plan is not None:
            coming, self._coming = self._coming, None
            try:
                streams = coming.result()
            except RopewalkError:
                return  # the engine has refused it as well, and says why
            self._there().send(streams, talk.plan.setup.interface)
            self._there().know(talk.plan.cid)

    @staticmethod
    def _key(talk: Talk) -> Key | None:
        """Return what the streams depend on; None while nothing is sent that others may hear."""
        plan, show = talk.plan, talk.status.show
        if not (talk.is_playing and talk.is_engine_there and plan and plan.cid and show):
            return None
        if all(is_loopback(each.address) for each in plan.setup.display.controllers):
            return None
        return plan.number, show.pattern, plan.setup.interface


def _streams(display: Display, pattern: str) -> "tuple[Stream, ...]":
    from streamer.engine.rivals import streams_of

    return streams_of(display, pattern)
