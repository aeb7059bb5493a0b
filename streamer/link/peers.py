"""Who is at the other end of a local socket, where the system tells."""

import socket
import struct
from pathlib import Path
from typing import NamedTuple

from streamer.link.addresses import ANSWER_LIMIT_S

PEER_CREDENTIALS = struct.Struct("3i")
"""Linux's struct ucred: process, user and group (man 7 unix, SO_PEERCRED)."""


class Peer(NamedTuple):
    """A process and its user, by their numbers."""

    process: int
    user: int


def peer_of(connected: socket.socket) -> Peer | None:
    """Return who is at the other end; None on a system that does not tell."""
    if not hasattr(socket, "SO_PEERCRED"):
        return None
    credentials = connected.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, PEER_CREDENTIALS.size)
    process, user, _ = PEER_CREDENTIALS.unpack(credentials)
    return Peer(process, user)


def process_at(path: Path) -> int | None:
    """Return the process that listens at a path; None where nobody does, or the system does not tell."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as probe:
        probe.settimeout(ANSWER_LIMIT_S)
        try:
            probe.connect(str(path))
        except OSError:
            return None
        peer = peer_of(probe)
    return peer.process if peer else None
