"""Listening without being in the way: one port, any number of groups, datagrams by the hundred.

Unlike `receiver` it judges many datagrams in one call, tells when the kernel took each in, and leaves what is
sent to this machine alone to whoever else wants it.
"""

import socket
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from streamer.closing import Closes
from streamer.errors import NetworkError
from streamer.net.arrivals import ROWS_MAX, Arrivals
from streamer.net.binding import listening_socket
from streamer.net.destinations import is_ipv6
from streamer.net.ignoring import ignore, ignore_nothing
from streamer.net.interfaces import Interface
from streamer.net.linux import (
    IP_PKTINFO,
    IS_LINUX,
    MEMINFO,
    SK_MEMINFO_DROPS,
    SO_MEMINFO,
    SO_RXQ_OVFL,
    SO_TIMESTAMPNS,
)
from streamer.net.memberships import Memberships
from streamer.net.reading import NS_PER_S, ManyAtOnce, OneByOne, Reading, find_recvmmsg

BUFFER_OCTETS = 16 * 1024 * 1024
"""Asked for; without privilege Linux grants twice net.core.rmem_max."""
OLDEST_S = 1.0
"""No datagram waits longer unread; a stamp that says so was taken before the wall clock was set."""
PORT_OCTETS = slice(2, 4)
"""Of a sender's address: it may be another one each time."""


@dataclass(frozen=True, slots=True)
class Moment:
    """Now, on a steady clock in seconds and on the wall clock, in nanoseconds since 1970, of the stamps."""

    now_s: float
    wall_ns: int


class Listener(Closes):
    """Hears a UDP port without waiting. Use it in `with`, or close it. Raises NetworkError.

    Given an `interface`, what came in by another is counted in `strays` and passed over. Without one, groups
    are joined on each of `joined_by`, or where the system likes.
    """

    def __init__(
        self,
        port: int,
        interface: Interface | None = None,
        buffer_octets: int = BUFFER_OCTETS,
        *,
        joined_by: Sequence[Interface] = (),
        by_many: bool = True,
    ) -> None:
        self.port = port
        self.strays = 0
        self.has_more = False
        """Whether the last reading took as many as one can, so that more may wait."""
        self._interface = interface
        self._joined_by: Sequence[Interface | None] = joined_by if interface is None else ()
        self._is_ignoring = False
        # Of the kernel's count: what was dropped before the last ignoring, and where it stood after it.
        self._before = self._base = 0
        self._socket = listening_socket(port, buffer_octets)
        self._of_ipv4, self._of_ipv6 = Memberships(self._socket), Memberships(self._socket)
        self._into = Reading()
        call = find_recvmmsg() if by_many else None
        self._reader = (
            ManyAtOnce(self._socket, self._into, call) if call else OneByOne(self._socket, self._into)
        )
        if IS_LINUX:
            self._socket.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMPNS, 1)
            self._socket.setsockopt(socket.SOL_SOCKET, SO_RXQ_OVFL, 1)
            if self._socket.family == socket.AF_INET6:
                self._socket.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_RECVPKTINFO, 1)
            else:
                self._socket.setsockopt(socket.IPPROTO_IP, IP_PKTINFO, 1)

    def join(self, groups: Iterable[str]) -> None:
        """Be a member of exactly these groups; NetworkError, and a member of none, when one is refused."""
        self._of_ipv4.leave()
        self._of_ipv6.leave()
        self.join_more(groups)

    def join_more(self, groups: Iterable[str]) -> None:
        """Be a member of these groups too, without a gap in the others.

        NetworkError, and a member of none of that IP version, when one is refused.
        """
        groups = tuple(groups)
        for interface in self._joined_by or (self._interface,):
            self._of_ipv4.join_more((each for each in groups if not is_ipv6(each)), interface)
            self._of_ipv6.join_more((each for each in groups if is_ipv6(each)), interface)

    @property
    def hears_ipv6(self) -> bool:
        """Whether groups of IPv6 may be joined as well as those of IPv4."""
        return self._socket.family == socket.AF_INET6

    def ignore(self, at_octet: int, octets: bytes) -> bool:
        """Hear nothing from now on that holds these octets there, if the kernel can: see `ignoring`."""
        counted = self._counted
        if not ignore(self._socket, at_octet, octets):
            return False
        if not self._is_ignoring:
            self._before += counted - self._base
        self._is_ignoring = True
        return True

    def ignore_nothing(self) -> None:
        """Hear everything again."""
        if self._is_ignoring:
            ignore_nothing(self._socket)
            self._base, self._is_ignoring = self._counted, False

    @property
    def buffer_octets(self) -> int:
        """The receive buffer as the system gave it; on Linux about half of it is bookkeeping."""
        return self._socket.getsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF)

    @property
    def dropped(self) -> int | None:
        """Datagrams that the kernel dropped for want of buffer since the start.

        None where it does not tell, and while some are ignored: it counts those as dropped too.
        """
        if not IS_LINUX or self._is_ignoring:
            return None
        return self._before + self._counted - self._base

    @property
    def _counted(self) -> int:
        """The count of SO_RXQ_OVFL, asked for at once: that one comes only with the next datagram."""
        if not IS_LINUX:
            return 0
        told = self._socket.getsockopt(socket.SOL_SOCKET, SO_MEMINFO, MEMINFO.size)
        return int(MEMINFO.unpack(told)[SK_MEMINFO_DROPS])

    def read(self, moment: Moment) -> Arrivals:
        """Return what waits, at most ROWS_MAX datagrams; they hold until the next call.

        Raises NetworkError when the system refuses to read.
        """
        into = self._into
        try:
            count = self._reader.read()
        except OSError as error:
            what = f"cannot receive ({error.strerror})"
            raise NetworkError(what, f"the socket of port {self.port}", "Start again") from error
        self.has_more = count == ROWS_MAX
        ports = np.ascontiguousarray(into.names[:count, PORT_OCTETS]).view(np.uint16)[:, 0]
        into.names[:count, PORT_OCTETS] = 0
        stamps_ns = into.stamps_ns[:count]
        age_s = (moment.wall_ns - stamps_ns) / NS_PER_S
        is_good = (age_s >= 0) & (age_s <= OLDEST_S)
        arrivals = Arrivals(
            into.octets[:count],
            into.lengths[:count],
            into.names[:count],
            moment.now_s - np.where(is_good, age_s, 0.0),
            into.destinations[:count],
            ports,
            self._dropped_before(into.drops[:count]),
        )
        return self._from_the_interface(arrivals, count)

    def _dropped_before(self, drops: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return the count of `dropped` at the time that each was queued; it stands still meanwhile."""
        if self._is_ignoring:
            return np.full(len(drops), self._before)
        return self._before + np.maximum(drops - self._base, 0)

    def _from_the_interface(self, arrivals: Arrivals, count: int) -> Arrivals:
        if self._interface is None:
            return arrivals
        indices = self._into.indices[:count]
        is_stray = (indices != self._interface.index) & (indices > 0)
        strays = int(is_stray.sum())
        self.strays += strays
        return arrivals.some(~is_stray) if strays else arrivals

    def fileno(self) -> int:
        """Return the file descriptor to wait for, in a selector; -1 when closed."""
        return self._socket.fileno()

    def close(self) -> None:
        """Leave the groups and free the port; calling it again does nothing."""
        self._of_ipv4.leave()
        self._of_ipv6.leave()
        self._socket.close()
