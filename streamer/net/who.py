"""Which process holds a UDP port, in words."""

import socket
from collections.abc import Callable, Iterable
from typing import Any

import psutil

from streamer.net.destinations import ANYWHERE

UNSEEN = "a process of another user (administrator rights are needed to see which)"


def _udp_connections() -> Iterable[Any]:
    return tuple(psutil.net_connections(kind="udp"))


def _process_name(pid: int) -> str:
    return str(psutil.Process(pid).name())


def holder_of_udp_port(
    port: int,
    connections: Callable[[], Iterable[Any]] = _udp_connections,
    process_name: Callable[[int], str] = _process_name,
) -> str | None:
    """Return who holds a UDP port ("process 4711 (python3)"), or None when nobody does.

    Says so when the system does not let this user see the process. Tests give their own
    `connections` (things with `laddr.port` and `pid`, as psutil's sconn) and `process_name`.
    """
    holders = processes_on_udp_port(port, connections)
    told = (_in_words(pid, process_name) for pid in sorted(holders, key=lambda pid: pid or 0))
    return " and ".join(told) or None


def processes_on_udp_port(
    port: int, connections: Callable[[], Iterable[Any]] = _udp_connections
) -> frozenset[int | None]:
    """Return the processes that hold a UDP port; None among them for those that cannot be seen."""
    try:
        return frozenset(each.pid for each in connections() if each.laddr and each.laddr.port == port)
    except psutil.AccessDenied:
        return frozenset([None])


def is_held_by_ipv4(port: int, connections: Callable[[], Iterable[Any]] = _udp_connections) -> bool:
    """Say whether a socket of IPv4 holds a UDP port, or may: where the system does not tell, one may."""
    try:
        return any(
            each.family == socket.AF_INET and each.laddr and each.laddr.port == port for each in connections()
        )
    except psutil.AccessDenied:
        return True


def is_held_everywhere(port: int, connections: Callable[[], Iterable[Any]] = _udp_connections) -> bool:
    """Say whether an IPv4 socket holds a UDP port at every address, or may, as in `is_held_by_ipv4`."""
    try:
        return any(
            each.laddr and each.laddr.port == port and each.laddr.ip == ANYWHERE for each in connections()
        )
    except psutil.AccessDenied:
        return True


def _in_words(pid: int | None, process_name: Callable[[int], str]) -> str:
    if pid is None:
        return UNSEEN
    try:
        name = process_name(pid)
    except psutil.Error:  # it ended, or may not be looked at
        return f"process {pid}"
    # Any process can name itself anything, escape sequences included.
    return f"process {pid} ({''.join(each if each.isprintable() else '?' for each in name)})"
