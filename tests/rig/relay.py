"""A cable that loses, swaps and delays: two TAP interfaces, each in a host of its own, and a process between.

Run as root: `relay.py NEAR_NAMESPACE NEAR_INTERFACE FAR_NAMESPACE FAR_INTERFACE RULES`, the rules as JSON. It
says "ready", then what it did as a line of JSON for each line it is sent, and ends when nobody can ask more.
What becomes of the nth frame of a flow depends on the seed, the flow and n alone, not on time.
"""

import ctypes
import fcntl
import json
import os
import random
import select
import struct
import sys
import time
from collections import deque
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from ipaddress import IPv4Address
from pathlib import Path

TUNSETIFF, IFF_TAP, IFF_NO_PI = 0x400454CA, 0x0002, 0x1000
"""linux/if_tun.h."""
CLONE_NEWNET = 0x40000000
FRAME_OCTETS = 65_536
ETHERTYPE, IPV4 = slice(12, 14), b"\x08\x00"
"""IEEE 802.3; RFC 894."""
IP_OCTET, PROTOCOL_OCTET, SOURCE, DESTINATION = 14, 23, slice(26, 30), slice(30, 34)
"""RFC 791 clause 3.1, behind an Ethernet header of 14 octets."""
ICMP, UDP = 1, 17
FLOWS_MOST = 1_000
"""What comes on top passes untouched."""
LONGEST_S = 300.0


@dataclass(frozen=True, slots=True)
class Rules:
    """What is done to the frames of every flow of IPv4 that goes one way; all else passes at once."""

    way: str = "out"
    """ "out" from the near host to the far one, "back" the other way."""
    seed: int = 1
    lose: float = 0.0
    """The share of frames that is dropped."""
    swap: float = 0.0
    """The share of frames that is held back until others of their flow have passed."""
    behind_most: int = 1
    """A frame held back lets from 1 to so many others pass."""
    delay_s: float = 0.0
    """Of every frame."""
    first: int = 0
    """So many frames of each flow pass untouched before anything is done to one."""
    last: int = 1_000_000
    """Nothing is done to those after so many."""


@dataclass(slots=True)
class Done:
    """What was done to a flow."""

    seen: int = 0
    lost: int = 0
    swapped: int = 0
    """That others of the flow passed."""


@dataclass(slots=True)
class Flow:
    """The frames of one flow, in their order."""

    draw: random.Random
    done: Done = field(default_factory=Done)
    held: bytes = b""
    to_pass: int = 0
    """Before what is held goes on."""

    def take(self, frame: bytes, rules: Rules) -> Iterator[bytes]:
        """Yield what goes on now: the frame, nothing, or the frame and what it has passed."""
        lot, behind = self.draw.random(), self.draw.randint(1, rules.behind_most)
        self.done.seen += 1
        may = rules.first < self.done.seen <= rules.last
        if may and lot < rules.lose:
            self.done.lost += 1
        elif may and lot < rules.lose + rules.swap and not self.held:
            self.held, self.to_pass = frame, behind
        else:
            yield frame
            yield from self._passed()

    def _passed(self) -> Iterator[bytes]:
        if not self.held:
            return
        self.to_pass -= 1
        if not self.to_pass:
            self.done.swapped += 1
            yield self.held
            self.held = b""


class Fates:
    """What becomes of frames that go one way. No socket, no clock."""

    def __init__(self, rules: Rules) -> None:
        self._rules = rules
        self._flows: dict[str, Flow] = {}

    def take(self, frame: bytes) -> Iterator[bytes]:
        """Yield what goes on now."""
        name = flow_of(frame)
        if name not in self._flows and (not name or len(self._flows) >= FLOWS_MOST):
            yield frame
            return
        flow = self._flows.setdefault(name, Flow(random.Random(f"{self._rules.seed} {name}")))  # noqa: S311
        yield from flow.take(frame, self._rules)

    def told(self) -> dict[str, dict[str, int]]:
        """Return what was done, by flow."""
        return {name: asdict(flow.done) for name, flow in self._flows.items()}


def flow_of(frame: bytes) -> str:
    """Return "10.61.0.1 10.61.0.2 5568", or "icmp" for a port; empty for what is no flow."""
    protocol = frame[PROTOCOL_OCTET] if frame[ETHERTYPE] == IPV4 else 0
    if protocol not in {ICMP, UDP}:
        return ""
    udp = IP_OCTET + 4 * (frame[IP_OCTET] & 0x0F)
    # RFC 768: the port of the destination is its second field.
    port = "icmp" if protocol == ICMP else str(int.from_bytes(frame[udp + 2 : udp + 4], "big"))
    return f"{IPv4Address(frame[SOURCE])} {IPv4Address(frame[DESTINATION])} {port}"


def tap(namespace: str, name: str) -> int:
    """Return the descriptor of a new TAP interface in a namespace; it is there as long as that is open."""
    libc = ctypes.CDLL(None, use_errno=True)
    home, there = (os.open(each, os.O_RDONLY) for each in ("/proc/self/ns/net", f"/run/netns/{namespace}"))
    try:
        if libc.setns(there, CLONE_NEWNET):
            raise OSError(ctypes.get_errno(), "setns")
        descriptor = os.open(Path("/dev/net/tun"), os.O_RDWR | os.O_NONBLOCK)
        fcntl.ioctl(descriptor, TUNSETIFF, struct.pack("16sH22x", name.encode(), IFF_TAP | IFF_NO_PI))
        libc.setns(home, CLONE_NEWNET)
    finally:
        os.close(home)
        os.close(there)
    return descriptor


def relay(near: int, far: int, rules: Rules) -> None:
    """Pass frames both ways until nobody can ask any more."""
    fates, late = Fates(rules), deque[tuple[float, int, bytes]]()
    limit_s = time.monotonic() + LONGEST_S
    while (now_s := time.monotonic()) < limit_s:
        wait_s = max(0.0, late[0][0] - now_s) if late else 1.0
        for descriptor in select.select([near, far, 0], [], [], wait_s)[0]:
            if descriptor == 0:
                if not os.read(0, 4096):
                    return
                print(json.dumps(fates.told()), flush=True)  # noqa: T201  its answer
                continue
            frame, to = os.read(descriptor, FRAME_OCTETS), far if descriptor == near else near
            if (descriptor == near) != (rules.way == "out"):
                _write(to, frame)
                continue
            late += [(time.monotonic() + rules.delay_s, to, each) for each in fates.take(frame)]
        while late and late[0][0] <= time.monotonic():
            _write(*late.popleft()[1:])


def _write(descriptor: int, frame: bytes) -> None:
    try:
        os.write(descriptor, frame)
    except OSError as error:
        # Switched off meanwhile: a cable that leads to it leads nowhere (EIO).
        print(f"not passed on: {error}", file=sys.stderr)  # noqa: T201


def main() -> None:
    """Make the interfaces, and relay."""
    near_namespace, near, far_namespace, far, rules = sys.argv[1:]
    descriptors = tap(near_namespace, near), tap(far_namespace, far)
    print("ready", flush=True)  # noqa: T201
    relay(*descriptors, Rules(**json.loads(rules)))


if __name__ == "__main__":
    main()
