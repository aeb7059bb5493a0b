"""The far end of a night run: a host that takes levels in, answers ArtPoll, and says each second what came.

Run as a program in a host's namespace: `python -m tests.rig.lawn ADDRESS FILE`. SIGUSR1 switches it off for
OFF_S, after which it counts its replies from 1 again, as a controller that lost its supply does. When a
packet came the kernel says: on a busy machine it is read much later.
"""

import json
import select
import signal
import socket
import sys
import time
from ipaddress import IPv4Address
from pathlib import Path

from streamer.wire import artnet, e131
from streamer.wire.artnet import ArtPollReply, NodeReport
from tests.stamped import Stamped, arrived, stamping

OFF_S = 10.0
GAP_S = 0.2
"""At 40 frames a second eight are missing; of fewer no time is told."""
START_CODE_OCTET = 125
"""ANSI E1.31-2018 Table 4-1."""
OPTIONS_OCTET = 112
STREAM_TERMINATED = 0x40
"""ANSI E1.31-2018 clause 6.2.6."""
ARTDMX_DATA_OCTET = 18
OP_CODE_OCTETS = slice(8, 10)
WAIT_S = 0.2
OP_DMX, OP_POLL = b"\x00\x50", b"\x00\x20"
"""Art-Net 4, Table 1: low octet first."""


class Lawn:
    """What each second brought."""

    def __init__(self, address: str, log: Path) -> None:
        self._address = address
        self._ports = {stamping(address, port): port for port in (e131.PORT, artnet.PORT)}
        # The file is there once the host listens.
        self._log = log.open("a")
        self._replies = 0
        self._off_until_s = 0.0
        self._second_ends_s = time.time() + 1
        self._came_s = time.time()
        self._lit_unix_s = 0.0
        self._clear()
        signal.signal(signal.SIGUSR1, lambda *_: self.switch_off())

    def _clear(self) -> None:
        self._packets = self._lit = self._terminated = 0
        self._gap_s = self._back_unix_s = 0.0
        self._gaps: list[tuple[float, float]] = []

    def switch_off(self) -> None:
        """Hear nothing for a while."""
        self._off_until_s = time.time() + OFF_S
        self._replies = 0

    def run(self) -> None:
        """Listen until ended by a signal."""
        while True:
            select.select(list(self._ports), [], [], WAIT_S)
            now_s = time.time()
            came = [(each, sock) for sock in self._ports for each in arrived(sock)]
            for each, sock in sorted(came, key=lambda found: found[0].unix_s):
                self._tell_until(each.unix_s)
                if each.unix_s > self._off_until_s:
                    self.take(each, sock)
            self._tell_until(now_s)

    def take(self, datagram: Stamped, sock: socket.socket) -> None:
        """Answer a poll, or count a packet of levels."""
        (now_s, octets, source), port = datagram, self._ports[sock]
        if port == artnet.PORT and octets[OP_CODE_OCTETS] == OP_POLL:
            self._replies += 1
            report = NodeReport(1, self._replies, "lawn").encode()
            reply = ArtPollReply(ip=IPv4Address(self._address), short_name="lawn", node_report=report)
            sock.sendto(reply.encode(), source)
            return
        data = octets[START_CODE_OCTET + 1 :] if port == e131.PORT else octets[ARTDMX_DATA_OCTET:]
        gap_s = now_s - self._came_s
        if gap_s > self._gap_s:
            self._gap_s, self._back_unix_s = gap_s, now_s
        if gap_s > GAP_S:
            self._gaps.append((round(now_s, 3), round(gap_s, 3)))
        self._came_s = now_s
        self._packets += 1
        if any(data):
            self._lit += 1
            self._lit_unix_s = now_s
        self._terminated += port == e131.PORT and bool(octets[OPTIONS_OCTET] & STREAM_TERMINATED)

    def _tell_until(self, now_s: float) -> None:
        while now_s >= self._second_ends_s:
            self.tell()
            self._second_ends_s += 1

    def tell(self) -> None:
        """Write what came within a second."""
        told = {
            # When it ended.
            "unix_s": round(self._second_ends_s, 3),
            "packets": self._packets,
            "lit": self._lit,
            "terminated": self._terminated,
            # The longest time without a packet that ended in this second, and when it did.
            "gap_s": round(self._gap_s, 3),
            "back_unix_s": round(self._back_unix_s, 3),
            # Every longer time without a packet: when it ended, and how long it was.
            "gaps": self._gaps,
            # When levels came last that were not all dark.
            "lit_unix_s": round(self._lit_unix_s, 3),
        }
        self._log.write(json.dumps(told) + "\n")
        self._log.flush()
        self._clear()


if __name__ == "__main__":
    Lawn(sys.argv[1], Path(sys.argv[2])).run()
