"""Linux socket options that Python 3.11's `socket` does not name, and the shapes of what they carry.

Numbers are those of Linux's own headers in `include/uapi`: `linux/in.h`, `linux/in6.h`, `linux/udp.h`,
`asm-generic/socket.h`, `linux/sock_diag.h` and `linux/errqueue.h`; they are part of its stable interface.
"""

import struct
import sys

IS_LINUX = sys.platform.startswith("linux")

IP_PKTINFO = 8
IP_RECVERR = 11
IP_MULTICAST_ALL = 49
IP_UNICAST_IF = 50
IPV6_RECVERR = 25
IPV6_UNICAST_IF = 76
SOL_UDP = 17
UDP_SEGMENT = 103
SO_ATTACH_FILTER = 26
SO_DETACH_FILTER = 27
SO_RCVBUFFORCE = 33
SO_TIMESTAMPNS = 35
SO_RXQ_OVFL = 40
SO_MEMINFO = 55

SK_MEMINFO_DROPS = 8
"""Index into SO_MEMINFO: datagrams dropped on this socket since it was opened."""
SO_EE_ORIGIN_LOCAL = 1
"""The error came from this machine and was also returned by the call that caused it."""

UNICAST_IF = struct.Struct("!I")
"""Interface index, in network byte order: ip(7)."""
INTERFACE_INDEX = struct.Struct("@I")
"""The same, in the machine's own order: RFC 3493 clause 5.2, IPV6_MULTICAST_IF."""
MREQN = struct.Struct("=4s4si")
"""struct ip_mreqn: group, local address, interface index."""
PKTINFO = struct.Struct("=i4s4s")
"""struct in_pktinfo: interface index, local address, destination in the header."""
PKTINFO_IPV6 = struct.Struct("=16sI")
"""struct in6_pktinfo: destination in the header, interface index: RFC 3542 clause 6."""
EXTENDED_ERR = struct.Struct("=IBBBBII")
"""struct sock_extended_err: errno, origin, type, code, pad, info, data."""
SEGMENT_OCTETS = struct.Struct("=H")
"""What UDP_SEGMENT carries: the length of each packet."""
MEMINFO = struct.Struct("=9I")
"""SO_MEMINFO: nine counters."""
