"""Two hosts on one cable, without leaving this machine: network namespaces joined by a veth pair.

Each host has its own interfaces, addresses, routes and sockets; nothing reaches a real network. Needs root.
"""

import ctypes
import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

COMMAND_LIMIT_S = 20


@dataclass(frozen=True)
class Host:
    """One end of the cable: a namespace, the interface in it and its first address."""

    namespace: str
    interface: str
    address: str

    def ip(self, *words: str) -> str:
        """Run iproute2's ip in this host, and return what it says."""
        return run("ip", "-n", self.namespace, *words)

    def run(self, *command: str) -> str:
        """Run a command in this host, with its own /sys, and return what it says."""
        return run("ip", "netns", "exec", self.namespace, *command)

    @contextmanager
    def inside(self) -> Iterator[None]:
        """Be in this host meanwhile; a socket stays in the host where it was opened. Main thread only."""
        with _namespace("/proc/self/ns/net") as outside, _namespace(f"/run/netns/{self.namespace}") as here:
            _enter(here)
            try:
                yield
            finally:
                _enter(outside)


@dataclass(frozen=True)
class Cable:
    """Two hosts with a cable between them."""

    near: Host
    far: Host

    def plug(self) -> None:
        """Make the cable and its two interfaces, with their first addresses."""
        near, far = self.near, self.far
        near.ip(
            *("link", "add", near.interface, "type", "veth"),
            *("peer", "name", far.interface, "netns", far.namespace),
        )
        for host in (near, far):
            host.ip("link", "set", host.interface, "up")
            host.ip("address", "add", f"{host.address}/24", "dev", host.interface)

    def unplug(self) -> None:
        """Delete both interfaces, as pulling a USB adapter does."""
        self.near.ip("link", "delete", self.near.interface)


def run(*command: str) -> str:
    """Run a command, and return what it says."""
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=COMMAND_LIMIT_S)
    assert done.returncode == 0, f"{' '.join(command)}: {done.stderr}"
    return done.stdout


@contextmanager
def _namespace(path: str) -> Iterator[int]:
    descriptor = os.open(Path(path), os.O_RDONLY)
    try:
        yield descriptor
    finally:
        os.close(descriptor)


def _enter(namespace: int) -> None:
    clone_newnet = 0x40000000
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.setns(namespace, clone_newnet) != 0:
        raise OSError(ctypes.get_errno(), "setns")
