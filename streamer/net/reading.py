"""Two ways of reading what waits on a socket into arrays: recvmmsg(2), and one recvmsg after another."""

import ctypes
import os
import socket
import struct
from collections.abc import Callable
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from streamer.net.arrivals import ADDRESS_OCTETS, IPV4_IN_IPV6, NAME_OCTETS, ROW_OCTETS, ROWS_MAX
from streamer.net.controls import ARRIVED, CONTROL_OCTETS, CONTROLS, OVERFLOWED, PKTINFO_OF, STAMP
from streamer.net.linux import IS_LINUX, PKTINFO_IPV6, SO_RXQ_OVFL, SO_TIMESTAMPNS
from streamer.net.mmsg import MESSAGE, PORT, SOCKADDR_IN, SOCKADDR_IN6
from streamer.net.zones import NO_FLOW

Ancillary = list[tuple[int, int, bytes]]
RecvMmsg = Callable[[int, int, int], int]
"""Given a file descriptor, and the address and number of messages, how many came; or OSError."""

NAMES_MAX = 4_096
"""Senders whose address is kept as the kernel would write it."""
NS_PER_S = 1_000_000_000


class Reading:
    """Room for what one call reads, and what it read: the first `count` rows are good."""

    def __init__(self) -> None:
        self.octets = np.zeros((ROWS_MAX, ROW_OCTETS), np.uint8)
        self.names = np.zeros((ROWS_MAX, NAME_OCTETS), np.uint8)
        self.lengths = np.zeros(ROWS_MAX, np.int64)
        self.stamps_ns = np.zeros(ROWS_MAX, np.int64)
        """Since 1970; 0 where there is none."""
        self.drops = np.zeros(ROWS_MAX, np.int64)
        """By the kernel's own count, before each; 0 where it does not tell."""
        self.indices = np.zeros(ROWS_MAX, np.int32)
        """The interface that each came in by; 0 where not known."""
        self.destinations = np.zeros((ROWS_MAX, ADDRESS_OCTETS), np.uint8)
        """As in Arrivals."""


class Reader(Protocol):
    """A way of reading."""

    def read(self) -> int:
        """Read what waits without waiting, at most ROWS_MAX datagrams, and return how many; or OSError."""


def find_recvmmsg() -> RecvMmsg | None:
    """Return the C library's recvmmsg, or None where it or the layout known here is not to be had."""
    is_known = IS_LINUX and ctypes.sizeof(ctypes.c_void_p) == struct.calcsize("q")
    call = getattr(ctypes.CDLL(None, use_errno=True), "recvmmsg", None) if is_known else None
    if call is None:
        return None
    call.argtypes = (ctypes.c_int, ctypes.c_void_p, ctypes.c_uint, ctypes.c_int, ctypes.c_void_p)
    call.restype = ctypes.c_int

    def recvmmsg(descriptor: int, messages: int, count: int) -> int:
        came: int = call(descriptor, messages, count, socket.MSG_DONTWAIT, None)
        if came < 0:
            number = ctypes.get_errno()
            raise OSError(number, os.strerror(number))
        return came

    return recvmmsg


class ManyAtOnce:
    """Reads by recvmmsg into a table of messages laid out once."""

    def __init__(self, sock: socket.socket, into: Reading, call: RecvMmsg) -> None:
        self._socket, self._into, self._call = sock, into, call
        self._family = sock.family
        self._control, self._after_drops = _both_layouts(sock.family)
        self._vectors = np.empty((ROWS_MAX, 2), np.uintp)
        self._vectors[:, 0] = _rows(into.octets)
        self._vectors[:, 1] = ROW_OCTETS
        self._messages = np.zeros(ROWS_MAX, MESSAGE)
        self._header = self._messages["header"]
        self._header["name"] = _rows(into.names)
        self._header["vectors"] = _rows(self._vectors)
        self._header["vector_count"] = 1
        self._header["control"] = _rows(self._control)

    def read(self) -> int:
        """See Reader."""
        header, into = self._header, self._into
        # The kernel writes over the room it was given with what it used of it.
        header["name_length"] = NAME_OCTETS
        header["control_length"] = CONTROL_OCTETS
        self._control["stamp_type"] = self._control["to_type"] = self._after_drops["to_type"] = 0
        try:
            count = self._call(self._socket.fileno(), self._messages.ctypes.data, ROWS_MAX)
        except BlockingIOError:
            return 0
        into.lengths[:count] = self._messages["sent"][:count]
        self._note(count)
        return count

    def _note(self, count: int) -> None:
        into, control = self._into, self._control[:count]
        has_stamp = (control["stamp_level"] == socket.SOL_SOCKET) & (control["stamp_type"] == SO_TIMESTAMPNS)
        stamps_ns = control["stamp_s"] * NS_PER_S + control["stamp_ns"]
        into.stamps_ns[:count] = np.where(has_stamp, stamps_ns, 0)
        has_drops = (control["drops_level"] == socket.SOL_SOCKET) & (control["drops_type"] == SO_RXQ_OVFL)
        into.drops[:count] = np.where(has_drops, control["drops"], 0)
        into.indices[:count] = 0
        into.destinations[:count] = 0
        if has_drops.any():
            self._note_destinations(self._after_drops[:count], has_drops)
        self._note_destinations(control, ~has_drops)

    def _note_destinations(self, control: NDArray[np.void], is_laid_out_so: NDArray[np.bool_]) -> None:
        level, kind = PKTINFO_OF[self._family]
        rows = np.flatnonzero(is_laid_out_so & (control["to_level"] == level) & (control["to_type"] == kind))
        into, to = self._into, control["to"]
        into.indices[rows] = control["index"][rows]
        into.destinations[rows, -to.shape[1] :] = to[rows]
        if self._family == socket.AF_INET:
            into.destinations[rows, : len(IPV4_IN_IPV6)] = np.frombuffer(IPV4_IN_IPV6, np.uint8)


class OneByOne:
    """Reads by recvmsg where there is one, else by recvfrom: for every other system."""

    def __init__(self, sock: socket.socket, into: Reading) -> None:
        self._socket, self._into = sock, into
        self._rows = [[memoryview(row.data)] for row in into.octets]
        self._has_ancillary = hasattr(sock, "recvmsg_into")
        self._names: dict[tuple[str, int], bytes] = {}

    def read(self) -> int:
        """See Reader."""
        lengths, names, ancillaries = [], [], []
        for row in self._rows:
            try:
                length, ancillary, source = self._read_into(row)
            except BlockingIOError:
                break
            lengths.append(length)
            names.append(self._name(source[:2]))
            ancillaries.append(ancillary)
        count, into = len(lengths), self._into
        into.lengths[:count] = lengths
        into.names[:count] = np.frombuffer(b"".join(names), np.uint8).reshape(-1, NAME_OCTETS)
        self._note(ancillaries)
        return count

    def _read_into(self, row: list[memoryview]) -> tuple[int, Ancillary, tuple[str, int]]:
        if self._has_ancillary:
            length, ancillary, _, source = self._socket.recvmsg_into(row, CONTROL_OCTETS)
            return length, ancillary, source
        length, source = self._socket.recvfrom_into(row[0])
        return length, [], source

    def _note(self, ancillaries: list[Ancillary]) -> None:
        into, count = self._into, len(ancillaries)
        into.stamps_ns[:count] = into.drops[:count] = into.indices[:count] = into.destinations[:count] = 0
        if not IS_LINUX:
            return
        for row, ancillary in enumerate(ancillaries):
            for level, kind, data in ancillary:
                if (level, kind) == (socket.SOL_SOCKET, SO_TIMESTAMPNS):
                    seconds, nanoseconds = STAMP.unpack_from(data)
                    into.stamps_ns[row] = seconds * NS_PER_S + nanoseconds
                elif (level, kind) == (socket.SOL_SOCKET, SO_RXQ_OVFL):
                    (into.drops[row],) = OVERFLOWED.unpack(data)
                elif (level, kind) == PKTINFO_OF[self._socket.family]:
                    self._note_arrival(row, data)

    def _note_arrival(self, row: int, data: bytes) -> None:
        if self._socket.family == socket.AF_INET:
            index, to = ARRIVED.unpack(data)
            to = IPV4_IN_IPV6 + to
        else:
            to, index = PKTINFO_IPV6.unpack(data)
        self._into.indices[row] = index
        self._into.destinations[row] = np.frombuffer(to, np.uint8)

    def _name(self, source: tuple[str, int]) -> bytes:
        name = self._names.get(source)
        if name is None:
            if len(self._names) >= NAMES_MAX:
                self._names.clear()
            name = self._names[source] = socket_name(self._socket.family, source)
        return name


def _both_layouts(family: int) -> tuple[NDArray[np.void], NDArray[np.void]]:
    """Return room for what comes with each datagram, seen by both layouts."""
    plain, after_drops = CONTROLS[socket.AddressFamily(family)]
    room = np.zeros(ROWS_MAX, plain)
    return room, room.view(after_drops)


def socket_name(family: int, source: tuple[str, int]) -> bytes:
    """Return an address and port as the kernel writes them, NAME_OCTETS long."""
    address, port = source[0], PORT.pack(source[1])
    if family == socket.AF_INET:
        name = SOCKADDR_IN.pack(family, port, socket.inet_aton(address))
    else:
        octets = socket.inet_pton(socket.AF_INET6, address.partition("%")[0])
        name = SOCKADDR_IN6.pack(family, port, NO_FLOW, octets, 0)
    return name.ljust(NAME_OCTETS, b"\0")


def _rows(array: NDArray[np.generic]) -> NDArray[np.uintp]:
    """Return the address of each row."""
    return (array.ctypes.data + np.arange(len(array)) * array.strides[0]).astype(np.uintp)
