"""Opening a bound, non-blocking UDP socket, and saying plainly why that failed."""

import errno
import socket

from streamer.errors import NetworkError
from streamer.net.both_versions import hear_both_versions
from streamer.net.destinations import EVERY_ADDRESS, EVERY_ADDRESS_IPV6, is_ipv6
from streamer.net.linux import IP_MULTICAST_ALL, IS_LINUX, SO_RCVBUFFORCE
from streamer.net.who import holder_of_udp_port, is_held_by_ipv4
from streamer.net.zones import socket_name

NAMES = {EVERY_ADDRESS: "every address", EVERY_ADDRESS_IPV6: "every IPv6 address"}


def bound_socket(address: str, port: int, buffer_octets: int, *, is_shared: bool) -> socket.socket:
    """Return a UDP socket bound to an address ("" for all, "::" for all of IPv6) and a port (0 for any).

    The buffer is what the system grants of `buffer_octets`. Raises NetworkError.
    """
    try:
        sock = socket.socket(socket.AF_INET6 if is_ipv6(address) else socket.AF_INET, socket.SOCK_DGRAM)
    except OSError as error:
        raise _refusal(error, address, port) from error
    try:
        sock.setblocking(False)
        if is_ipv6(address):
            # Else it would take the port of IPv4 as well.
            sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        _enlarge(sock, buffer_octets)
        if is_shared:
            _share(sock)
        _bind(sock, address, port)
        if IS_LINUX:
            # Set afterwards it lets in nobody but those who ask to share, as a listener does.
            _share(sock)
    except OSError as error:
        sock.close()
        raise _refusal(error, address, port) from error
    return sock


def _bind(sock: socket.socket, address: str, port: int) -> None:
    """Bind, beside listeners if there are any: they share, hold no socket of IPv4, and hear both versions."""
    try:
        sock.bind(socket_name((address, port)))
    except OSError as error:
        if error.errno != errno.EADDRINUSE or not IS_LINUX:
            raise
        if not hear_both_versions(port) if is_ipv6(address) else is_held_by_ipv4(port):
            raise
        _share(sock)
        sock.bind(socket_name((address, port)))


def listening_socket(port: int, buffer_octets: int) -> socket.socket:
    """Return a UDP socket that hears what reaches a port and takes nothing from whoever else is bound to it.

    On Linux a socket of both IP versions gets a copy of every group's and every broadcast datagram, and what
    is sent to this machine alone only where no IPv4 socket wants it; it can be had beside programs that share
    the port. Elsewhere, and without IPv6, the port is taken for ourselves. Raises NetworkError.
    """
    if not IS_LINUX or not socket.has_dualstack_ipv6():
        return bound_socket("", port, buffer_octets, is_shared=False)
    sock = socket.socket(socket.AF_INET6, socket.SOCK_DGRAM)
    try:
        sock.setblocking(False)
        _enlarge(sock, buffer_octets)
        _share(sock)
        sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 0)
        # It is on for a socket of IPv4, and off for this kind.
        sock.setsockopt(socket.IPPROTO_IP, IP_MULTICAST_ALL, 1)
        sock.bind(("::", port))
    except OSError as error:
        sock.close()
        raise _refusal(error, "", port) from error
    return sock


def _enlarge(sock: socket.socket, buffer_octets: int) -> None:
    if IS_LINUX:
        try:
            sock.setsockopt(socket.SOL_SOCKET, SO_RCVBUFFORCE, buffer_octets)
        except PermissionError:
            pass
        else:
            return
    # Without privilege Linux grants net.core.rmem_max at most, silently; the caller reads it back.
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, buffer_octets)


def _share(sock: socket.socket) -> None:
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    if not IS_LINUX and hasattr(socket, "SO_REUSEPORT"):
        # BSD's kin want this as well; on Linux it would deal the packets out among the sockets.
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)


def _refusal(error: OSError, address: str, port: int) -> NetworkError:
    where = f"{NAMES.get(address, address)} port {port}"
    if error.errno == errno.EADDRINUSE:
        holder = holder_of_udp_port(port) or "another program"
        return NetworkError(
            f"the UDP port is held by {holder}", where, "End that program, or use another port"
        )
    if error.errno == errno.EAFNOSUPPORT:
        return NetworkError("this machine does not speak IPv6", where, "Switch IPv6 on, or use IPv4")
    if error.errno == errno.ENODEV:
        return NetworkError("there is no such interface", where, "Use one that this machine has")
    if error.errno == errno.EADDRNOTAVAIL:
        return NetworkError("this machine does not have that address", where, "Use one that it has")
    if error.errno == errno.EACCES:
        return NetworkError("this user may not use that port", where, "Use a port above 1023")
    return NetworkError(f"cannot listen ({error.strerror})", where, "Use another address or port")
