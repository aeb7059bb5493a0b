"""The serving end: a local socket that only this user can open, and the clients on it."""

import contextlib
import os
import socket
import struct
from pathlib import Path
from typing import Generic

from pydantic import BaseModel, TypeAdapter

from streamer.errors import LinkError
from streamer.link.channel import Channel, Incoming

CLIENT_LIMIT = 32
USER_ONLY = 0o600
PEER_CREDENTIALS = struct.Struct("3i")
"""Linux's struct ucred: process, user and group (man 7 unix, SO_PEERCRED)."""


class LinkServer(Generic[Incoming]):
    """Listens on `path`, which is taken away again by `close`."""

    def __init__(self, path: Path, incoming: TypeAdapter[Incoming]) -> None:
        self.path = path
        self._incoming = incoming
        self.clients: list[Channel[Incoming]] = []
        self._listener = _listen(path)

    def filenos(self) -> list[int]:
        """Return the descriptors to wait on for reading."""
        return [self._listener.fileno(), *(client.fileno() for client in self.clients)]

    def poll(self) -> list[tuple[Channel[Incoming], Incoming]]:
        """Take in new clients, let the gone ones go, and return what the rest have said."""
        self._accept()
        said = []
        for client in self.clients:
            client.flush()
            try:
                said += [(client, message) for message in client.receive()]
            except LinkError as error:
                # It has been cut off; the reason goes where the process keeps its log.
                os.write(2, f"{error}\n".encode())
        self.clients = [client for client in self.clients if client.is_open]
        return said

    def tell_all(self, message: BaseModel) -> None:
        """Send a message to every client that has read the one before."""
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
        with contextlib.suppress(BlockingIOError):
            while True:
                connected, _ = self._listener.accept()
                if len(self.clients) >= CLIENT_LIMIT or not _is_this_user(connected):
                    connected.close()
                    continue
                self.clients.append(Channel(connected, self._incoming))


def _listen(path: Path) -> socket.socket:
    if path.exists() and is_answering(path):
        raise LinkError(f"{path.stem}: is running already. Attach to it, or stop it first.")
    path.unlink(missing_ok=True)
    listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    try:
        listener.bind(str(path))
        path.chmod(USER_ONLY)
        listener.listen(CLIENT_LIMIT)
    except OSError as error:
        listener.close()
        raise LinkError(f"{path}: no local socket can be made ({error.strerror or error}).") from error
    listener.setblocking(False)
    return listener


def is_answering(path: Path) -> bool:
    """Whether somebody listens on the socket at `path`; after kill -9 the file stays but nobody does."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as probe:
        try:
            probe.connect(str(path))
        except OSError:
            return False
    return True


def _is_this_user(connected: socket.socket) -> bool:
    if not hasattr(socket, "SO_PEERCRED"):
        return True  # the folder's mode keeps others out; this is the second lock, where there is one
    credentials = connected.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, PEER_CREDENTIALS.size)
    _, user, _ = PEER_CREDENTIALS.unpack(credentials)
    return user in (os.getuid(), 0)


def connect(path: Path, incoming: TypeAdapter[Incoming]) -> Channel[Incoming]:
    """Connect to the socket at `path`; LinkError when nobody answers."""
    connecting = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    try:
        connecting.connect(str(path))
    except OSError as error:
        connecting.close()
        raise LinkError(f"{path.stem}: is not running ({error.strerror}).") from error
    return Channel(connecting, incoming)
