"""What a listener does for its clients: all that is heard, once a second, and their requests."""

from streamer.display.numbering import PROTOCOL_NAME, UNIVERSE_RANGE
from streamer.hear.client import socket_path
from streamer.hear.ears import Ears
from streamer.hear.messages import REQUESTS, Close, Discover, Heard, Ignore, Listen, Refused, Request, Watch
from streamer.link.channel import Channel
from streamer.link.server import LinkServer

GRACE_S = 2.0
"""How long a listener that a client started waits for another when the last has gone."""


class Service:
    """The local socket of a listener; `close` takes it away.

    With `started_by` the listener is done when nobody has been attached for a while.
    """

    def __init__(self, ears: Ears, name: str, started_by: str, now: float) -> None:
        self._ears = ears
        self._table = ears.table
        self._started_by = started_by
        self._server: LinkServer[Request] = LinkServer(socket_path(name), REQUESTS)
        self._attended_s = now
        self._is_closed = False

    def filenos(self) -> list[int]:
        """Return the descriptors to wait on for reading."""
        return self._server.filenos()

    def serve(self, now: float) -> None:
        """Do what clients ask."""
        for client, request in self._server.poll():
            self._do(client, request)
        if self._server.is_attended:
            self._attended_s = now

    def tell(self, heard: Heard, now: float) -> None:
        """Tell every client what is heard."""
        self._server.tell_all(heard)
        # It knows only now who is here: where this process stood still, nobody has gone.
        if self._server.is_attended:
            self._attended_s = now

    def is_done(self, now: float) -> bool:
        """Say whether the listener was asked to end, or nobody needs it any more."""
        return self._is_closed or bool(self._started_by and now - self._attended_s >= GRACE_S)

    def close(self) -> None:
        """Take the socket away."""
        self._server.close()

    def _do(self, client: Channel[Request], request: Request) -> None:
        match request:
            case Close():
                self._is_closed = True
            case Discover():
                self._table.discover = request.on
            case Ignore():
                self._ears.ignore(request.cid)
            case Watch() | Listen():
                self._look_at(client, request)

    def _look_at(self, client: Channel[Request], request: Watch | Listen) -> None:
        universes = request.universes if isinstance(request, Listen) else (request.universe,)
        first, last = UNIVERSE_RANGE[request.protocol]
        if any(each is not None and not first <= each <= last for each in universes):
            reason = f"{PROTOCOL_NAME[request.protocol]} has universes {first} to {last}: ask for those."
            client.send(Refused(request=request.kind, reason=reason))
        elif isinstance(request, Watch):
            self._table.watch(request.protocol, request.universe, request.slot)
        else:
            self._table.ask(request.protocol, request.universes)
