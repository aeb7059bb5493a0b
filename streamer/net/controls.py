"""What the kernel says with each datagram: when it came, what was lost before it, where it was sent to."""

import socket
import struct

import numpy as np

from streamer.net.linux import IP_PKTINFO

STAMP = struct.Struct("@qq")
"""What SO_TIMESTAMPNS carries, struct timespec: seconds and nanoseconds since 1970."""
OVERFLOWED = struct.Struct("=I")
"""What SO_RXQ_OVFL carries: how many were dropped before this one was queued. None while it is 0."""
ARRIVED = struct.Struct("=i4x4s")
"""Of struct in_pktinfo: the interface's index, and the destination as it stands in the header."""
_HEAD_OCTETS = 16
"""struct cmsghdr of a 64-bit machine: length, level, type; what it carries is padded to eight: cmsg(3)."""
_STAMP_OCTETS, _DROPS_OCTETS, _TO_OCTETS = (_HEAD_OCTETS + each for each in (16, 8, 24))
"""A stamp of 16 octets, a count of 4, and a struct in6_pktinfo of 20 or an in_pktinfo of 12."""
CONTROL_OCTETS = _STAMP_OCTETS + _DROPS_OCTETS + _TO_OCTETS


def _message(name: str, at_octet: int, *fields: tuple[str, str, int]) -> tuple[tuple[str, str, int], ...]:
    inside = ((field, kind, at_octet + _HEAD_OCTETS + octet) for field, kind, octet in fields)
    return ((f"{name}_level", "i4", at_octet + 8), (f"{name}_type", "i4", at_octet + 12), *inside)


def _control(to_octet: int, *to: tuple[str, str, int]) -> np.dtype[np.void]:
    names, formats, offsets = zip(
        *_message("stamp", 0, ("stamp_s", "i8", 0), ("stamp_ns", "i8", 8)),
        *_message("drops", _STAMP_OCTETS, ("drops", "u4", 0)),
        *_message("to", to_octet, *to),
        strict=True,
    )
    layout = {"names": names, "formats": formats, "offsets": offsets, "itemsize": CONTROL_OCTETS}
    control: np.dtype[np.void] = np.dtype(layout)  # type: ignore[call-overload]  # its stubs know lists alone
    return control


def _controls(*to: tuple[str, str, int]) -> tuple[np.dtype[np.void], np.dtype[np.void]]:
    """Return the layout while nothing was dropped, and the one afterwards."""
    return _control(_STAMP_OCTETS, *to), _control(_STAMP_OCTETS + _DROPS_OCTETS, *to)


CONTROLS = {
    socket.AF_INET: _controls(("index", "i4", 0), ("to", "(4,)u1", 8)),
    socket.AF_INET6: _controls(("to", "(16,)u1", 0), ("index", "i4", 16)),
}
"""The kernel writes the socket's own messages first, then the protocol's: net/ipv4/udp.c, udp_recvmsg;
net/socket.c, __sock_recv_cmsgs.

A socket of IPv6 has an in6_pktinfo with every datagram, those of IPv4 included: net/ipv6/datagram.c,
ip6_datagram_recv_common_ctl.
"""
PKTINFO_OF = {
    socket.AF_INET: (socket.IPPROTO_IP, IP_PKTINFO),
    socket.AF_INET6: (socket.IPPROTO_IPV6, getattr(socket, "IPV6_PKTINFO", -1)),
}
