"""What a yard does for its clients: its state five times a second, the shared frame, their requests."""

from streamer.errors import PlanError
from streamer.link import addresses
from streamer.link.channel import Channel
from streamer.link.newest import NewestFrame
from streamer.link.server import LinkServer
from streamer.yard.client import socket_path
from streamer.yard.messages import REQUESTS, Close, Refused, Request, SetFaults, YardStatus
from streamer.yard.yard import Yard

STATUS_S = 0.2
FRAME_S = 0.02
"""A frame for every few packets would take most of the time of a large yard, and no screen looks as often."""
GRACE_S = 2.0
"""How long a yard that a client started waits for another when the last has gone."""


class Service:
    """The local socket and the shared frame of a yard; `close` takes both away.

    With `started_by` the yard is done when nobody has been attached for a while.
    """

    def __init__(self, yard: Yard, name: str, started_by: str, now: float) -> None:
        path = socket_path(name)
        self._yard = yard
        self._started_by = started_by
        self._server: LinkServer[Request] = LinkServer(path, REQUESTS)
        seen = yard.seen()
        self._frame = NewestFrame.create(
            path.with_name(path.name + addresses.FRAME), len(seen.nodes), len(seen.channels)
        )
        self._frame.write(seen)
        self._has_news = False
        self._shown_s = now
        self._told_s = now - STATUS_S
        self._attended_s = now
        self._is_closed = False

    def filenos(self) -> list[int]:
        """Return the descriptors to wait on for reading."""
        return self._server.filenos()

    def serve(self, now: float, *, has_news: bool, trouble: str = "") -> None:
        """Do what clients ask; show the newest frame, 50 times a second at most; report when that is due.

        `trouble` is what is wrong with the yard itself, in words.
        """
        requests = self._server.poll()
        for client, request in requests:
            self._do(client, request)
        if self._server.is_attended:
            self._attended_s = now
        is_due = now - self._told_s >= STATUS_S
        self._show(now, has_news=has_news or is_due or bool(requests))
        if is_due:
            self._told_s = now
            self._server.tell_all(self._status(now, trouble))
            # It knows only now who is here: where this process stood still, nobody has gone.
            if self._server.is_attended:
                self._attended_s = now

    def _show(self, now: float, *, has_news: bool) -> None:
        self._has_news |= has_news
        if self._has_news and now - self._shown_s >= FRAME_S:
            self._has_news, self._shown_s = False, now
            self._frame.write(self._yard.seen())

    def is_done(self, now: float) -> bool:
        """Say whether the yard was asked to end, or nobody needs it any more."""
        return self._is_closed or bool(self._started_by and now - self._attended_s >= GRACE_S)

    def close(self) -> None:
        """Take the socket and the frame away."""
        self._server.close()
        self._frame.remove()

    def _do(self, client: Channel[Request], request: Request) -> None:
        match request:
            case SetFaults(port=port, faults=faults):
                try:
                    self._yard.set_faults(port, faults)
                except PlanError as error:
                    client.send(Refused(request=request.kind, reason=str(error)))
            case Close():
                self._is_closed = True

    def _status(self, now: float, trouble: str) -> YardStatus:
        return YardStatus(
            frame_path=str(self._frame.path),
            ports=self._yard.ports_seen(),
            display=self._yard.display.name,
            started_by=self._started_by,
            note="; ".join(filter(None, [trouble, self._yard.note(now)])),
        )
