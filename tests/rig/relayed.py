"""A cable with a relay in it, as a fixture would have it: see relay.py."""

import json
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path

import pytest

from tests.rig.cable import Cable
from tests.rig.relay import Done, Rules

RELAY = Path(__file__).with_name("relay.py")
LIMIT_S = 10


class Relay:
    """A relay that runs, to be asked what it did."""

    def __init__(self, process: "subprocess.Popen[str]") -> None:
        self._process = process

    def done(self) -> dict[str, Done]:
        """Return what was done so far, by flow: "10.61.0.1 10.61.0.2 5568"."""
        assert self._process.stdin
        self._process.stdin.write("\n")
        self._process.stdin.flush()
        return {name: Done(**done) for name, done in json.loads(self.line()).items()}

    def line(self) -> str:
        """Return what it says next."""
        assert self._process.stdout
        return self._process.stdout.readline().strip()


@contextmanager
def relayed(cable: Cable, rules: Rules) -> Iterator[Relay]:
    """Put a relay into a cable: its two interfaces keep their names and addresses."""
    if not Path("/dev/net/tun").exists():
        pytest.skip("needs /dev/net/tun, to put a relay into a cable")
    cable.unplug()
    ends = [word for host in (cable.near, cable.far) for word in (host.namespace, host.interface)]
    with subprocess.Popen(
        [sys.executable, RELAY, *ends, json.dumps(asdict(rules))],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        try:
            relay = Relay(process)
            assert relay.line() == "ready"
            for host in (cable.near, cable.far):
                # Nothing of the system's own goes over it: neither router nor neighbour is asked for.
                host.run("sysctl", "-qw", f"net.ipv6.conf.{host.interface}.disable_ipv6=1")
                host.ip("link", "set", host.interface, "up")
                host.ip("address", "add", f"{host.address}/24", "dev", host.interface)
            yield relay
        finally:
            process.kill()
