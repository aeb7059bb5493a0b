"""Many datagrams, each to its own address, in one system call: sendmmsg(2), which `socket` does not have.

The messages are laid out once, as the C library's own structures.
"""

import ctypes
import errno
import os
import socket
import struct
from collections.abc import Callable, Sequence
from contextlib import suppress

import numpy as np
from numpy.typing import NDArray

from streamer.net.destinations import Destination, is_ipv6
from streamer.net.linux import IS_LINUX
from streamer.net.zones import NO_FLOW, NO_SCOPE

MESSAGES_MAX = 1024
"""UIO_MAXIOV: the kernel takes no more in one call, and says nothing of the rest: sendmmsg(2)."""
SOCKADDR_IN = struct.Struct("=H2s4s8x")
"""Family in the machine's order, port in the network's, address: ip(7)."""
SOCKADDR_IN6 = struct.Struct("=H2sI16sI")
"""Family, port, flow information, address, scope: ipv6(7)."""
PORT = struct.Struct("!H")

SendMmsg = Callable[[int, int, int], int]
"""Given a socket's file descriptor, and the address and number of messages, how many went; or OSError."""


class _Header(ctypes.Structure):
    """struct msghdr: sendmsg(2). Pointers are numbers, so that NumPy can fill them in."""

    _fields_ = (
        ("name", ctypes.c_size_t),
        ("name_length", ctypes.c_uint32),
        ("vectors", ctypes.c_size_t),
        ("vector_count", ctypes.c_size_t),
        ("control", ctypes.c_size_t),
        ("control_length", ctypes.c_size_t),
        ("flags", ctypes.c_int),
    )


class _Message(ctypes.Structure):
    """struct mmsghdr: sendmmsg(2)."""

    _fields_ = (("header", _Header), ("sent", ctypes.c_uint))


MESSAGE = np.dtype(_Message)
Messages = NDArray[np.void]


def no_sendmmsg(descriptor: int, messages: int, count: int) -> int:  # noqa: ARG001  stands for the real one
    """Say what a kernel says to a call that it does not have."""
    raise OSError(errno.ENOSYS, os.strerror(errno.ENOSYS))


def find_sendmmsg() -> SendMmsg:
    """Return the C library's sendmmsg, or `no_sendmmsg`."""
    call = getattr(ctypes.CDLL(None, use_errno=True), "sendmmsg", None) if IS_LINUX else None
    if call is None:
        return no_sendmmsg
    call.argtypes = (ctypes.c_int, ctypes.c_void_p, ctypes.c_uint, ctypes.c_int)
    call.restype = ctypes.c_int

    def sendmmsg(descriptor: int, messages: int, count: int) -> int:
        sent: int = call(descriptor, messages, count, 0)
        if sent < 0:
            number = ctypes.get_errno()
            raise OSError(number, os.strerror(number))
        return sent

    return sendmmsg


class MessageTable:
    """A message for every row of a matrix of packets, pointing into it: they say what it says when sent.

    It holds on to the matrix, so that the pointers stay good.
    """

    def __init__(self, packets: NDArray[np.uint8], destinations: Sequence[Destination]) -> None:
        count, length = packets.shape
        self._packets = packets
        self._names = np.zeros((count, SOCKADDR_IN6.size), np.uint8)
        self._vectors = np.empty((count, 2), np.uintp)
        self._vectors[:, 0] = packets.ctypes.data + np.arange(count) * length
        self._vectors[:, 1] = length
        self.messages: Messages = np.zeros(count, MESSAGE)
        header = self.messages["header"]
        header["name"] = self._names.ctypes.data + np.arange(count) * SOCKADDR_IN6.size
        header["vectors"] = self._vectors.ctypes.data + np.arange(count) * self._vectors.strides[0]
        header["vector_count"] = 1
        for row, destination in enumerate(destinations):
            # Without a name the kernel refuses that message alone: EDESTADDRREQ.
            with suppress(OSError):
                name = socket_address(destination)
                self._names[row, : len(name)] = np.frombuffer(name, np.uint8)
                header["name_length"][row] = len(name)


def socket_address(destination: Destination) -> bytes:
    """Return an address and port as the kernel takes them. Raises OSError unless it is a numeric address.

    One with a zone is refused: these are laid out once, and an interface may come back with another index.
    """
    address, port = destination[0], PORT.pack(destination[1])
    if not is_ipv6(address):
        return SOCKADDR_IN.pack(socket.AF_INET, port, socket.inet_pton(socket.AF_INET, address))
    octets = socket.inet_pton(socket.AF_INET6, address)
    return SOCKADDR_IN6.pack(socket.AF_INET6, port, NO_FLOW, octets, NO_SCOPE)
