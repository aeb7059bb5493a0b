"""The quickest way to send on Linux: many packets in one system call, by what the kernel takes for each.

Equal packets to one address go up to 64 at a time as one long datagram that the kernel cuts (UDP segmentation
offload: udp(7), UDP_SEGMENT), packets to different addresses by sendmmsg(2), and what is left by sendto. The
wire is the same in every way. Whether a route can cut shows at the first send, not when an option is set, so
what is refused goes again at once by the next way, and the address is remembered.
"""

import errno
import socket
import time
from collections.abc import Callable, Mapping, Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from streamer.net.destinations import LOOPBACK, Destination
from streamer.net.hosts import Hosts
from streamer.net.interfaces import Interface
from streamer.net.kernel import Kernel, this_kernel
from streamer.net.late_errors import errno_name
from streamer.net.linux import IS_LINUX, SOL_UDP, UDP_SEGMENT
from streamer.net.mailing import Dispatch, Mailing, Mailings, Rows, Singles, Train
from streamer.net.mmsg import MESSAGE, MESSAGES_MAX
from streamer.net.outgoing import Kind
from streamer.net.patience import Patience
from streamer.net.preparations import Preparations
from streamer.net.prepared import Departure, Piece, segments_of
from streamer.net.sender import DEFAULT_TTL, Sender, UdpSender
from streamer.net.ways import Way, Ways
from streamer.net.zones import socket_name

__all__ = ["BatchedSender", "Kernel", "open_sender", "this_kernel"]

CANNOT_CUT = frozenset({errno.EIO, errno.EINVAL, errno.ENOPROTOOPT, errno.EMSGSIZE, errno.EOPNOTSUPP})
"""How routes, drivers and old kernels say that they cannot cut a long datagram."""
NO_SEGMENTS = 0
"""Turns offload off, as it is anyway."""
NOWHERE_TO_GO = frozenset({"ENETUNREACH", "EHOSTUNREACH", "ENETDOWN", "ENODEV", "EADDRNOTAVAIL"})
"""After these the kernel has no hardware address for the host, or has one no longer."""


class BatchedSender(UdpSender):
    """Sends like `UdpSender`, the same octets in the same order to each destination, with fewer calls.

    Of a host not sent to for half a minute or until a moment ago, or that could not be reached, only the
    first packet of a call goes: see `hosts`. The others are not sent and not counted; call again with
    what is due, as the three repeats of E1.31 do anyway.

    What is worked out for a batch is kept by the identity of its matrix and its tuple of destinations: pass
    the same objects each time, and rows that are all different.
    """

    def __init__(  # noqa: PLR0913  each is a choice of the caller's
        self,
        interface: Interface | None,
        ttl: int = DEFAULT_TTL,
        *,
        broadcast: bool = False,
        only: Way | None = None,
        kernel: Kernel | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__(interface, ttl, broadcast=broadcast, clock=clock)
        self._clock = clock
        self._kernel = kernel or this_kernel()
        self._patience = Patience(clock)
        self._ways = Ways(only, self._without_offload())
        self._hosts = Hosts()
        self._mailings = Mailings(self._hosts, self._ways.is_together)
        self._preparations = Preparations(self._kernel.sendmsg, self._mailings, self._hosts)
        self._losses_known = 0
        self.disturbances = 0
        """Grows with all that may change how packets should go."""

    def _without_offload(self) -> str:
        """Return the errno's name with which the kernel says that it does not know offload, or nothing.

        Linux before 4.18 passes over what it does not know in a send (net/ipv4/ip_sockglue.c): it would send
        the long datagram uncut, and call that a success.
        """
        try:
            self._kernel.setsockopt(self._outgoing.to(LOOPBACK), SOL_UDP, UDP_SEGMENT, NO_SEGMENTS)
        except OSError as error:
            return errno_name(error.errno)
        return ""

    @property
    def ways(self) -> Mapping[str, str]:
        """How packets go to each address, and why not by a better way where one was refused."""
        return self._ways.in_words(self._mailings)

    def send(
        self, packets: NDArray[np.uint8], rows: NDArray[np.intp], destinations: Sequence[Destination]
    ) -> None:
        """Send `packets[row]` to `destinations[row]` for each of `rows`; packets are (n, octets), C order."""
        if not len(rows):
            return
        now_s = self._clock()
        self._heal()
        mailing = self._mailings.of(packets, destinations, now_s)
        dispatch = self._dispatch(mailing, rows, now_s)
        dispatch.gather(packets)
        for train in dispatch.trains:
            self.send_train(mailing, train)
        for singles in dispatch.singles:
            self.send_singles(mailing, singles)

    def prepare(self, pieces: Sequence[Piece]) -> list[Departure]:
        """Return what sends each of these as `send` does, as it is when that is called, within seconds.

        The very pieces prepared last, by a caller who has not changed them, are quick to prepare again.
        """
        self._heal()
        return self._preparations.of(self, pieces, self._clock())

    def close(self) -> None:
        """Close the sockets, and let go of what was prepared; calling it again does nothing."""
        super().close()
        self._preparations.forget()
        self._mailings.forget_dispatches()

    def _dispatch(self, mailing: Mailing, rows: Rows, now_s: float) -> Dispatch:
        """Return how to send these rows, less those that must wait for the first of their host."""
        dispatch = mailing.dispatch(rows)
        if self._hosts.is_still(dispatch.warm, now_s):
            return dispatch
        may_go = self._hosts.may_go(mailing.host_of_row[rows], now_s)
        if not may_go.all():
            return mailing.dispatch(rows[may_go])
        dispatch.warm = self._hosts.warm_from(now_s)
        return dispatch

    def _heal(self) -> None:
        is_reopened = self._outgoing.heal()
        if is_reopened:
            # It may be another adapter, that can what the one before could not.
            self._ways.try_again()
            self._mailings.forget_dispatches()
        losses = self._carrier.look()
        if is_reopened or losses != self._losses_known:
            self._losses_known = losses
            self._hosts.forget_all()
            self.disturbances += 1

    def _refused(self, errno_name: str, destination: Destination, packets: int = 1) -> None:
        super()._refused(errno_name, destination, packets)
        self.disturbances += 1
        if errno_name in NOWHERE_TO_GO:
            self._hosts.forget(destination[0])

    def send_train(self, mailing: Mailing, train: Train, refusal: OSError | None = None) -> None:
        """Send a train; its first attempt may have been made already, and refused."""
        sock = self._socket(train.kind)
        # It may have been refused a moment ago, for the train before it.
        if sock is None or not self._ways.is_together(train.destination):
            self._send_alone(mailing, train.rows)
            return
        couple_and_send = partial(self._couple_and_send, sock, train, mailing.packets.shape[1])
        sent = self._attempt(sock, couple_and_send, refusal)
        if sent > 0:
            self.accepted(sent, len(train.rows))
        elif -sent in CANNOT_CUT:
            self._ways.refuse_offload(train.destination, errno_name(-sent))
            self.disturbances += 1
            self._mailings.forget_dispatches()
            self._send_alone(mailing, train.rows)
        else:
            self._refused(errno_name(-sent), train.destination, len(train.rows))

    def _couple_and_send(self, sock: socket.socket, train: Train, length: int) -> int:
        """Send packets of `length` octets each, all or none."""
        destination = socket_name(train.destination)
        return self._kernel.sendmsg(sock, [train.octets], segments_of(length), 0, destination)

    def _send_alone(self, mailing: Mailing, rows: Rows) -> None:
        for singles in mailing.singles(rows):
            self.send_singles(mailing, singles)

    def send_singles(self, mailing: Mailing, singles: Singles) -> None:
        """Send packets each by itself, by as few calls as can be."""
        # A zone is looked up at each send; the messages of one call are laid out once.
        sock, at = None if singles.kind.has_zone else self._socket(singles.kind), 0
        while sock is not None and self._ways.has_sendmmsg and at < len(singles.rows):
            at += self._send_some(sock, mailing, singles, at)
        for row in singles.rows[at:].tolist():
            self._send(mailing.packets[row].data, mailing.destinations[row])

    def _send_some(self, sock: socket.socket, mailing: Mailing, singles: Singles, at: int) -> int:
        """Send by one call from the message at `at` on, and return how many were sent or refused."""
        address, asked = singles.address + at * MESSAGE.itemsize, min(len(singles.rows) - at, MESSAGES_MAX)
        sent = self._attempt(sock, partial(self._kernel.sendmmsg, sock.fileno(), address, asked))
        if sent > 0:
            self.accepted(sent * mailing.packets.shape[1], sent)
            if sent < asked:
                # What stopped it may have been news of an earlier datagram, and is forgotten by now.
                self._take_late_errors(sock)
            return sent
        if -sent == errno.ENOSYS:
            self._ways.refuse_sendmmsg(errno_name(-sent))
            return 0
        self._refused(errno_name(-sent), mailing.destinations[singles.rows[at]])
        return 1

    def socket_for(self, kind: Kind) -> socket.socket:
        """Return the socket of a kind, or raise OSError."""
        return self._outgoing.of(kind)

    def _socket(self, kind: Kind) -> socket.socket | None:
        """Return the socket of that kind; without one, sendto will say for each packet why there is none."""
        try:
            return self.socket_for(kind)
        except OSError:
            return None

    def _attempt(self, sock: socket.socket, call: Callable[[], int], refusal: OSError | None = None) -> int:
        """Make a call, unless it has been refused already; return how much it sent, or an errno below zero.

        A refusal may be the news of an earlier datagram, or a buffer that is full for the moment; nothing was
        sent then, and the call is made again.
        """
        if refusal is not None:
            return self._attempt_again(sock, call, refusal)
        try:
            return call()
        except OSError as error:
            # Under another name it would be held by its own traceback: an engine collects no garbage.
            return self._attempt_again(sock, call, error)

    def _attempt_again(self, sock: socket.socket, call: Callable[[], int], refusal: OSError) -> int:
        if isinstance(refusal, BlockingIOError):
            self._patience.has_room(sock)
        elif not self._take_late_errors(sock):
            return -(refusal.errno or errno.EIO)
        try:
            return call()
        except OSError as error:
            return -(error.errno or errno.EIO)


def open_sender(
    interface: Interface | None,
    ttl: int = DEFAULT_TTL,
    *,
    broadcast: bool = False,
    only: Way | None = None,
) -> Sender:
    """Open the quickest sender that this system has, or one that keeps to one way (and to sendto).

    Raises NetworkError when it cannot.
    """
    if IS_LINUX and only is not Way.SENDTO:
        return BatchedSender(interface, ttl, broadcast=broadcast, only=only)
    return UdpSender(interface, ttl, broadcast=broadcast)
