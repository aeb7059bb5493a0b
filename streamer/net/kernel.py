"""The system calls of sending beyond sendto."""

import socket
from collections.abc import Callable
from dataclasses import dataclass

from streamer.net.mmsg import SendMmsg, find_sendmmsg


@dataclass(frozen=True, slots=True)
class Kernel:
    """Those of a system; tests give their own."""

    sendmsg: Callable[..., int]
    """As socket.socket.sendmsg: the socket, buffers, ancillary data, flags and address."""
    sendmmsg: SendMmsg
    setsockopt: Callable[..., None] = socket.socket.setsockopt
    """As socket.socket.setsockopt."""


def this_kernel() -> Kernel:
    """Return what this system has."""
    return Kernel(socket.socket.sendmsg, find_sendmmsg())
