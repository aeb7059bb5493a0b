"""Whether hosts answer at all: an echo asked for without administrator rights, of IPv4 and of IPv6.

It needs no right but to open a datagram socket of ICMP: icmp(7) for Linux, where net.ipv4.ping_group_range
says which groups of users may, for both IP versions. Time is an argument. `icmp` has the octets.
"""

import errno
import secrets
import socket
from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path

from streamer.closing import Closes
from streamer.errors import NetworkError, PacketError
from streamer.net.complaints import SENTENCES
from streamer.net.destinations import is_ipv6, is_loopback
from streamer.net.icmp import SIXTEEN_BITS, echo_request, parse_echo_reply
from streamer.net.interfaces import Interface
from streamer.net.late_errors import errno_name
from streamer.net.linux import IP_UNICAST_IF, IPV6_UNICAST_IF, IS_LINUX, UNICAST_IF
from streamer.net.zones import destination_of, socket_name, zone_of

RANGE_FILE = Path("/proc/sys/net/ipv4/ping_group_range")
NO_PORT = 0
OUR_IDENTIFIER = 0
"""Linux puts the socket's own in its place, and hands each socket the replies to that: icmp(7)."""
TOKEN_OCTETS = 8
"""Random and new for each of us, so that nobody answers who was not asked."""
REPLY_OCTETS_MAX = 2048
READ_MAX = 1000
"""Replies taken at once: whoever floods us is not read for ever."""
PENDING_MAX = 10_000
"""Requests remembered; the oldest is forgotten for one more. Fewer than there are sequence numbers."""
NOT_ALLOWED = frozenset({errno.EACCES, errno.EPERM})
NOT_TO_BE_HAD = frozenset({errno.EPROTONOSUPPORT, errno.EPROTOTYPE, errno.ESOCKTNOSUPPORT})


class EchoNotAllowedError(NetworkError):
    """This user, or this system, asks no host for an echo: that says nothing about any host."""


@dataclass(frozen=True, slots=True)
class Answer:
    """A host has answered."""

    address: str
    """As it was asked for."""
    after_s: float


class Echoes(Closes):
    """Asks hosts for an echo and hears which answer, without waiting. Use it in `with`, or close it.

    Wait for `filenos` in a selector, or ask for `answers` now and then; who has not answered is not told.
    Given an `interface` it asks by that one, but for this machine's own and for addresses with a zone.
    """

    def __init__(self, interface: Interface | None = None) -> None:
        self._interface = interface
        self._sockets: dict[tuple[bool, bool], socket.socket] = {}
        self._token = secrets.token_bytes(TOKEN_OCTETS)
        self._sequence = 0
        self._pending: dict[int, tuple[str, float]] = {}

    def ask(self, address: str, now_s: float) -> None:
        """Ask one host, by its numeric address.

        Raises EchoNotAllowedError where the system does not let us, and NetworkError where it cannot send.
        """
        by_ipv6 = is_ipv6(address)
        self._sequence = (self._sequence + 1) & SIXTEEN_BITS
        request = echo_request(OUR_IDENTIFIER, self._sequence, self._token, is_ipv6=by_ipv6)
        is_pinned = not (is_loopback(address) or zone_of(address))
        try:
            sock = self._socket(by_ipv6=by_ipv6, is_pinned=is_pinned)
            sock.sendto(request, socket_name((address, NO_PORT)))
        except OSError as error:
            raise _refusal(error, address) from error
        if len(self._pending) >= PENDING_MAX:
            del self._pending[next(iter(self._pending))]
        self._pending[self._sequence] = address, now_s

    def answers(self, now_s: float) -> list[Answer]:
        """Return what has come back since the last call, each request's answer once.

        Raises NetworkError when the system refuses to read.
        """
        return [
            answer
            for (by_ipv6, _), sock in self._sockets.items()
            for octets, source in _read(sock)
            if (answer := self._answer(octets, source, now_s, by_ipv6=by_ipv6))
        ]

    @property
    def filenos(self) -> tuple[int, ...]:
        """The file descriptors to wait for, as they are after the last `ask`."""
        return tuple(sock.fileno() for sock in self._sockets.values())

    def close(self) -> None:
        """Close the sockets; calling it again does nothing."""
        for sock in self._sockets.values():
            sock.close()
        self._sockets.clear()

    def _answer(self, octets: bytes, source: str, now_s: float, *, by_ipv6: bool) -> Answer | None:
        try:
            reply = parse_echo_reply(octets, is_ipv6=by_ipv6)
        except PacketError:
            return None  # nobody's answer
        asked = self._pending.get(reply.sequence)
        if asked is None or reply.data != self._token or ip_address(asked[0]) != ip_address(source):
            return None
        del self._pending[reply.sequence]
        return Answer(asked[0], now_s - asked[1])

    def _socket(self, *, by_ipv6: bool, is_pinned: bool) -> socket.socket:
        kind = by_ipv6, is_pinned and self._interface is not None
        if kind not in self._sockets:
            self._sockets[kind] = _open(by_ipv6=by_ipv6, interface=self._interface if kind[1] else None)
        return self._sockets[kind]


def _open(*, by_ipv6: bool, interface: Interface | None) -> socket.socket:
    family, protocol = (
        (socket.AF_INET6, socket.IPPROTO_ICMPV6) if by_ipv6 else (socket.AF_INET, socket.IPPROTO_ICMP)
    )
    try:
        sock = socket.socket(family, socket.SOCK_DGRAM, protocol)
    except OSError as error:
        if error.errno in NOT_ALLOWED | NOT_TO_BE_HAD:
            raise _not_allowed(error) from error
        raise
    try:
        sock.setblocking(False)
        if IS_LINUX and interface is not None:
            level, option = (
                (socket.IPPROTO_IPV6, IPV6_UNICAST_IF) if by_ipv6 else (socket.IPPROTO_IP, IP_UNICAST_IF)
            )
            sock.setsockopt(level, option, UNICAST_IF.pack(interface.index))
    except OSError:
        sock.close()
        raise
    return sock


def _read(sock: socket.socket) -> list[tuple[bytes, str]]:
    found: list[tuple[bytes, str]] = []
    for _ in range(READ_MAX):
        try:
            octets, name = sock.recvfrom(REPLY_OCTETS_MAX)
        except BlockingIOError:
            break
        except OSError as error:
            what = f"cannot receive ({error.strerror})"
            raise NetworkError(what, "hearing echoes", "Try again") from error
        found.append((octets, destination_of(name)[0]))
    return found


def _not_allowed(error: OSError) -> EchoNotAllowedError:
    where = "asking for an echo (ICMP)"
    if error.errno in NOT_TO_BE_HAD or not IS_LINUX:
        what = f"this system does not let programs do that without rights ({error.strerror})"
        return EchoNotAllowedError(what, where, "See by its lamps whether the controller is there")
    try:
        allowed = f"net.ipv4.ping_group_range is {' '.join(RANGE_FILE.read_text('ascii').split())!r}"
    except (OSError, ValueError):
        allowed = "net.ipv4.ping_group_range cannot be read"
    return EchoNotAllowedError(
        f"this system does not let this user do that ({allowed})",
        where,
        "As administrator: sysctl -w net.ipv4.ping_group_range='0 2147483647'",
    )


def _refusal(error: OSError, address: str) -> NetworkError:
    name = errno_name(error.errno)
    otherwise = f"the system refuses to send ({name})", "Choose another interface, or another address"
    what, instead = SENTENCES.get(name, otherwise)
    return NetworkError(what, f"asking {address} for an echo", instead)
