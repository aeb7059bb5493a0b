"""The serving end: a local socket that only this user can open, and the clients on it."""

import contextlib
import os
import socket
import sys
from pathlib import Path
from typing import Generic

from pydantic import BaseModel, TypeAdapter

from streamer.errors import LinkError
from streamer.link.addresses import ANSWER_LIMIT_S, alone_in, check_length, is_answering
from streamer.link.channel import Channel, Incoming
from streamer.link.peers import peer_of

__all__ = ["LinkServer", "connect", "is_answering", "may_attach"]

CLIENT_LIMIT = 32
READ_OCTETS = 2**16
"""Taken from each client in one turn: a flood of requests must not cost the others their time."""
LOGGED_LIMIT = 100
"""A client that comes again and again with nonsense must not fill the disk."""
USER_ONLY = 0o600
ROOT = 0


class LinkServer(Generic[Incoming]):
    """Listens on `path`, which is taken away again by `close`."""

    def __init__(self, path: Path, incoming: TypeAdapter[Incoming]) -> None:
        self.path = path
        self._incoming = incoming
        self.clients: list[Channel[Incoming]] = []
        self._told: set[Channel[Incoming]] = set()
        self._logged = 0
        self._listener = _listen(path)

    def filenos(self) -> list[int]:
        """Return the descriptors to wait on for reading."""
        return [self._listener.fileno(), *(client.fileno() for client in self.clients if client.is_open)]

    def waiting_filenos(self) -> list[int]:
        """Return the descriptors to wait on for writing: of the clients that have something to come."""
        return [client.fileno() for client in self.clients if client.is_open and client.is_waiting]

    def poll(self) -> list[tuple[Channel[Incoming], Incoming]]:
        """Take in new clients, let the gone ones go, and return what the rest have said."""
        self._accept()
        said = []
        for client in self.clients:
            client.flush()
            try:
                said += [(client, message) for message in client.receive(READ_OCTETS)]
            except LinkError as error:
                self._log(error)
        self.clients = [client for client in self.clients if client.is_open]
        return said

    @property
    def is_attended(self) -> bool:
        """Whether a client is here that was here already when something was told last.

        A look for what runs connects as well, and is gone at once.
        """
        return not self._told.isdisjoint(self.clients)

    def tell_all(self, message: BaseModel) -> None:
        """Send a message to every client that has read the one before."""
        self._told = set(self.clients)
        for client in self.clients:
            if not client.is_waiting:
                client.send(message)

    def close(self) -> None:
        """Close every connection and take the socket away."""
        for client in self.clients:
            client.flush()
            client.close()
        self._listener.close()
        self.path.unlink(missing_ok=True)

    def _accept(self) -> None:
        # Whatever goes wrong with one newcomer (it has gone again, no descriptor is left), the rest go on.
        with contextlib.suppress(OSError):
            while True:
                connected, _ = self._listener.accept()
                if len(self.clients) < CLIENT_LIMIT and _is_this_user(connected):
                    self.clients.append(Channel(connected, self._incoming))
                else:
                    connected.close()

    def _log(self, error: LinkError) -> None:
        """Say why a client was cut off where the process keeps its log."""
        if self._logged < LOGGED_LIMIT:
            self._logged += 1
            print(error, file=sys.stderr, flush=True)  # noqa: T201  the log is standard error


def _listen(path: Path) -> socket.socket:
    check_length(path)
    listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    try:
        with alone_in(path.parent):
            _clear(path)
            listener.bind(str(path))
            path.chmod(USER_ONLY)
            listener.listen(CLIENT_LIMIT)
    except OSError as error:
        listener.close()
        raise LinkError(f"{path}: no local socket can be made ({error.strerror or error}).") from error
    except LinkError:
        listener.close()
        raise
    listener.setblocking(False)
    return listener


def _clear(path: Path) -> None:
    if path.exists() and is_answering(path):
        raise LinkError(f"{path.stem}: is running already. Attach to it, or stop it first.")
    path.unlink(missing_ok=True)


def _is_this_user(connected: socket.socket) -> bool:
    peer = peer_of(connected)
    # The folder's mode keeps others out; this is the second lock, where there is one.
    return peer is None or may_attach(peer.user, os.getuid())


def may_attach(user: int, own: int) -> bool:
    """Say whether a user may attach to a process of the user `own`: oneself, and root, who can anyway."""
    return user in (own, ROOT)


def connect(path: Path, incoming: TypeAdapter[Incoming]) -> Channel[Incoming]:
    """Connect to the socket at `path`; LinkError when nobody answers."""
    check_length(path)
    connecting = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    # A process that is stopped has a socket that takes nobody in; the caller must not wait for it for ever.
    connecting.settimeout(ANSWER_LIMIT_S)
    try:
        connecting.connect(str(path))
    except OSError as error:
        connecting.close()
        raise LinkError(f"{path.stem} does not answer ({error.strerror or error}).") from error
    return Channel(connecting, incoming, path.stem)
