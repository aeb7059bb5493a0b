"""What really is on a cable or on loopback: tshark in one of the hosts, read while it captures."""

import shutil
import socket
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import pytest

from tests.peers.dissection import wait_until_it_captures

FIELDS = ("ip.dst", "ipv6.dst", "ip.ttl", "ipv6.hlim", "udp.dstport", "udp.payload")
MARK = ("ff18::8300:ffff", 9)
"""The end of a capture: no universe has this group, and nobody listens on that port (RFC 863)."""
MOST_LINES = 100_000


@dataclass(frozen=True)
class Captured:
    """One datagram."""

    destination: str
    hops: int
    port: int
    payload: bytes


class Capture:
    """Datagrams to port 5568, and to MARK."""

    def __init__(self, tshark: "subprocess.Popen[str]") -> None:
        self._tshark = tshark

    def until_marked(self) -> list[Captured]:
        """Return everything before MARK."""
        assert self._tshark.stdout
        captured: list[Captured] = []
        for _, line in zip(range(MOST_LINES), self._tshark.stdout, strict=False):
            ipv4, ipv6, ttl, hops, port, payload = line.rstrip("\n").split(";")
            if (ipv6, int(port)) == MARK:
                return captured
            captured.append(Captured(ipv4 or ipv6, int(ttl or hops), int(port), bytes.fromhex(payload)))
        raise AssertionError("the capture ended without the mark")


def mark(interface: str) -> None:
    """Send MARK out of an interface of the host that we are in."""
    with socket.socket(socket.AF_INET6, socket.SOCK_DGRAM) as sender:
        index = socket.if_nametoindex(interface).to_bytes(4, "little")
        sender.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_MULTICAST_IF, index)
        sender.sendto(b"end", MARK)


@contextmanager
def capture(namespace: str, interface: str) -> Iterator[Capture]:
    """Capture at an interface of a host."""
    if shutil.which("tshark") is None:
        pytest.skip("needs tshark")
    words = [word for field in FIELDS for word in ("-e", field)]
    command = ["tshark", "-l", "-n", "-i", interface, "-f", "udp dst port 5568 or udp dst port 9"]
    with subprocess.Popen(
        ["ip", "netns", "exec", namespace, *command, "-T", "fields", "-E", "separator=;", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as tshark:
        wait_until_it_captures(tshark)
        try:
            yield Capture(tshark)
        finally:
            tshark.terminate()
