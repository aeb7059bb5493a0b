"""Membership of any number of multicast groups, of IPv4 or of IPv6, for one bound socket.

Linux lets a socket join 20 groups (net.ipv4.igmp_max_memberships), or as many of IPv6 as its option memory
holds, and hands every socket bound to the port and to no address whatever any socket of the machine has
joined (IP_MULTICAST_ALL: ip(7); IPv6 alike). So sockets that are never bound hold the memberships, as many
as it takes, and the bound one joins nothing and hears each datagram once. Elsewhere only the member hears
its group, and the bound socket joins them all.
"""

import errno
import socket
from collections.abc import Iterable
from pathlib import Path

from streamer.errors import NetworkError
from streamer.net.destinations import ANYWHERE, is_group, is_ipv6
from streamer.net.interfaces import Interface
from streamer.net.linux import INTERFACE_INDEX, IS_LINUX, MREQN

NO_INDEX = 0
IS_FULL = frozenset({errno.ENOBUFS, errno.ENOMEM})
"""What Linux says when a socket holds no more groups: IPv4 the first, IPv6 the second."""

WHAT_A_GROUP_IS = {
    socket.AF_INET: "not a multicast group, 224.0.0.0 to 239.255.255.255",
    socket.AF_INET6: "not an IPv6 multicast group, ff00::/8",
}
LIMIT_FILE = Path("/proc/sys/net/ipv4/igmp_max_memberships")


def memberships_limit(path: Path = LIMIT_FILE) -> int | None:
    """Return how many groups one socket may join here; None where there is no such limit, or none to read."""
    try:
        return int(path.read_text("ascii"))
    except (OSError, ValueError):
        return None


class Memberships:
    """The groups that are joined so that a bound socket hears them."""

    def __init__(self, bound: socket.socket) -> None:
        self._bound = bound
        self._families = _families_of(bound)
        self._holders: dict[socket.AddressFamily, list[socket.socket]] = {}

    def join(self, groups: Iterable[str], interface: Interface | None) -> None:
        """Be a member of exactly these groups, on that interface or where the system likes.

        Raises NetworkError, having left them all, when one cannot be joined.
        """
        self.leave()
        self.join_more(groups, interface)

    def join_more(self, groups: Iterable[str], interface: Interface | None) -> None:
        """Be a member of these groups too, without a gap in the others; else as `join`."""
        try:
            for group in sorted(groups):
                self._join_one(group, interface)
        except OSError as error:
            self.leave()
            raise _refusal(error, group, interface) from error

    def leave(self) -> None:
        """Leave every group; calling it again does nothing."""
        for holders in self._holders.values():
            for holder in holders:
                holder.close()
        self._holders.clear()

    def _join_one(self, group: str, interface: Interface | None) -> None:
        family = socket.AF_INET6 if is_ipv6(group) else socket.AF_INET
        if not is_group(group) or family not in self._families:
            raise OSError(errno.EINVAL, WHAT_A_GROUP_IS[self._families[0]])
        if not IS_LINUX:
            _add_membership(self._bound, group, interface)
            return
        holders = self._holders.setdefault(family, [])
        if holders:
            try:
                _add_membership(holders[-1], group, interface)
            except OSError as error:
                if error.errno not in IS_FULL:
                    raise
            else:
                return
        # The first, or the last one is full: the limit may have been changed, so the system is asked.
        holders.append(socket.socket(family, socket.SOCK_DGRAM))
        _add_membership(holders[-1], group, interface)


def _families_of(bound: socket.socket) -> tuple[socket.AddressFamily, ...]:
    """Return the address families of the groups that a socket can hear; one of IPv6 may hear both."""
    if bound.family == socket.AF_INET:
        return (socket.AF_INET,)
    if bound.getsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY):
        return (socket.AF_INET6,)
    return (socket.AF_INET, socket.AF_INET6)


def _add_membership(sock: socket.socket, group: str, interface: Interface | None) -> None:
    if is_ipv6(group):
        level, option, request = socket.IPPROTO_IPV6, socket.IPV6_JOIN_GROUP, _request_ipv6(group, interface)
    else:
        level, option, request = socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP, _request_ipv4(group, interface)
    try:
        sock.setsockopt(level, option, request)
    except OSError as error:
        # Already a member: only where the bound socket itself joins, and joins again.
        if IS_LINUX or error.errno != errno.EADDRINUSE:
            raise


def _request_ipv4(group: str, interface: Interface | None) -> bytes:
    if IS_LINUX:
        index = interface.index if interface else NO_INDEX
        return MREQN.pack(socket.inet_aton(group), socket.inet_aton(ANYWHERE), index)
    address = interface.addresses[0].address if interface and interface.addresses else ANYWHERE
    return socket.inet_aton(group) + socket.inet_aton(address)


def _request_ipv6(group: str, interface: Interface | None) -> bytes:
    """RFC 3493 clause 5.2, struct ipv6_mreq: group, interface index."""
    index = interface.index if interface else NO_INDEX
    return socket.inet_pton(socket.AF_INET6, group) + INTERFACE_INDEX.pack(index)


def _refusal(error: OSError, group: str, interface: Interface | None) -> NetworkError:
    where = f"joining group {group} on {interface.name if interface else 'any interface'}"
    if error.errno == errno.ENODEV:
        return NetworkError("there is no such interface or no way there", where, "Choose another interface")
    return NetworkError(f"it was refused ({error.strerror})", where, "Choose another group or interface")
