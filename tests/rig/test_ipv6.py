"""E1.31 over IPv6 from the command line to the cable: groups, single hosts, zones, and errors in words."""

import json
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from ipaddress import IPv6Address
from pathlib import Path
from typing import Any

import pytest

from streamer.net.receiver import UdpReceiver
from tests.rig.cable import Cable, Host
from tests.rig.capture import Captured, capture, mark

pytestmark = pytest.mark.rig

ROPEWALK = str(Path(sys.executable).with_name("ropewalk"))
LIMIT_S = 20
GROUP_PREFIX = "ff18" + "00" * 10 + "8300"
"""ANSI E1.31-2018 Tables 9-11 and 9-12; the universe follows in two octets."""
EXTENDED, DISCOVERY, SYNCHRONIZATION = 8, 2, 1
"""ANSI E1.31-2018 appendix A: the root vector of the other two, and their framing vectors."""
FILE = """
name = "Lake"
[[controllers]]
name = "jetty"
protocol = "e131"
address = "{address}"
sync_address = 7001
[[controllers.ports]]
number = 1
universe = 300
nodes = 2
"""
LOOPBACK_ROUTE = "route add local ff18::/16 dev lo"


class Shed:
    """The command line on the near host, in folders of its own."""

    def __init__(self, cable: Cable, folder: Path) -> None:
        self.cable = cable
        self.near, self.far = cable.near, cable.far
        self.folder = folder
        self._environment = {"ROPEWALK_RUNTIME_DIR": f"{folder}/r", "ROPEWALK_CONFIG_DIR": f"{folder}/c"}

    def words(self, *words: str) -> list[str]:
        """Return the whole command."""
        settings = [f"{name}={value}" for name, value in self._environment.items()]
        return ["ip", "netns", "exec", self.near.namespace, "env", *settings, ROPEWALK, *words]

    def send(self, *words: str) -> tuple[int, Any, str]:
        """Send red for a moment; return the exit code, the outcome, and what is said on standard error."""
        asked = ("send", "level", *words, "-p", "colour=red", "--level", "100", "--seconds", "0.3", "--json")
        done = subprocess.run(
            self.words(*asked), capture_output=True, text=True, check=False, timeout=LIMIT_S
        )
        assert "Traceback" not in done.stderr
        return done.returncode, json.loads(done.stdout), done.stderr

    def display_file(self, address: str) -> str:
        """Write a display of one controller at that address."""
        file = self.folder / "display.toml"
        file.write_text(FILE.format(address=address))
        return str(file)

    def captured(self, *words: str) -> list[Captured]:
        """Send, and return what arrives on the far end of the cable."""
        with capture(self.far.namespace, self.far.interface) as captured:
            code, outcome, told = self.send(*words)
            assert (code, outcome["ended"]["counts"]["errors"]) == (0, {}), told
            with self.near.inside():
                mark(self.near.interface)
            return captured.until_marked()


@pytest.fixture(name="shed")
def _shed(cable: Cable) -> Iterator[Shed]:
    for host, address in ((cable.near, "fd61::1/64"), (cable.far, "fd61::2/64")):
        host.run("sysctl", "-qw", f"net.ipv6.conf.{host.interface}.accept_dad=0")
        host.ip("address", "add", address, "dev", host.interface, "nodad")
        # So that tshark sees packets one by one: the cable does not cut them, the sending kernel does.
        host.ip("link", "set", host.interface, "gso_max_segs", "1")
    folder = Path(tempfile.mkdtemp(prefix="rw"))
    yield Shed(cable, folder)
    shutil.rmtree(folder)


def link_local(host: Host) -> str:
    """Return the link-local address of a host's end of the cable, when it may be used."""
    for _ in range(100):
        told = json.loads(host.ip("-json", "-6", "address", "show", "dev", host.interface, "scope", "link"))
        found = [each for each in told[0]["addr_info"] if "local" in each and not each.get("tentative")]
        if found:
            return str(found[0]["local"])
        host.run("sleep", "0.05")
    raise AssertionError("no link-local address")


def kind(packet: Captured) -> int:
    """Return the framing vector of an extended packet, 0 for data."""
    is_extended = int.from_bytes(packet.payload[18:22], "big") == EXTENDED
    return int.from_bytes(packet.payload[40:44], "big") if is_extended else 0


def test_every_universe_goes_to_its_own_group(shed: Shed):
    """Also the announcement, to that of universe 64214; as many hops as asked; nothing goes by IPv4."""
    packets = shed.captured(
        *("-u", "1,256,300,63999", "--to", "multicast6", "--interface", shed.near.interface, "--ttl", "3")
    )
    data = [packet for packet in packets if kind(packet) == 0]
    for packet in data:
        assert IPv6Address(packet.destination).packed.hex() == GROUP_PREFIX + packet.payload[113:115].hex()
    assert {packet.destination for packet in data} == {
        *("ff18::8300:1", "ff18::8300:100", "ff18::8300:12c", "ff18::8300:f9ff")
    }
    announced = [packet for packet in packets if kind(packet) == DISCOVERY]
    assert [packet.destination for packet in announced] == ["ff18::8300:fad6"]
    assert announced[0].payload[120:] == bytes.fromhex("00010100012cf9ff")
    assert {packet.hops for packet in packets} == {3}
    assert {packet.port for packet in packets} == {5568}


def test_a_display_file_says_so_too_and_synchronization_follows(shed: Shed):
    """The group of universe 7001 is ff18::8300:1b59: ANSI E1.31-2018 clause 6.3.3.1, Tables 9-11 and 9-12."""
    packets = shed.captured(shed.display_file("multicast6"))
    by_kind = {number: {p.destination for p in packets if kind(p) == number} for number in (0, 1, 2)}
    assert by_kind == {
        0: {"ff18::8300:12c"},
        SYNCHRONIZATION: {"ff18::8300:1b59"},
        DISCOVERY: {"ff18::8300:fad6"},
    }


@pytest.mark.parametrize(("is_link_local", "by_interface"), [(True, False), (True, True), (False, True)])
def test_a_single_host_is_reached(shed: Shed, *, is_link_local: bool, by_interface: bool):
    """By an address of its own network, or by a link-local one with its zone: RFC 4007 clause 11."""
    near, far = shed.near, shed.far
    link_local(near)
    bare = link_local(far) if is_link_local else "fd61::2"
    address = f"{bare}%{near.interface}" if is_link_local else bare
    chosen = ("--interface", near.interface) if by_interface else ()
    with far.inside(), UdpReceiver(5568, "::") as listening:
        packets = shed.captured("-u", "1-100", "--to", address, *chosen)
        heard = {each.destination for each in listening.receive(limit=100_000)}
    assert heard == {bare}
    data = [packet for packet in packets if kind(packet) == 0]
    assert {packet.destination for packet in data} == {bare}
    assert len(data) >= 100 * 4
    assert {p.destination for p in packets if kind(p) == DISCOVERY} == {"ff18::8300:fad6"}


@pytest.mark.parametrize("address", ["::1", "multicast6"])
def test_a_yard_hears_all_of_it_on_loopback(shed: Shed, address: str):
    """Every packet that was sent."""
    shed.near.ip("-6", *LOOPBACK_ROUTE.split())
    file = shed.display_file(address)
    with subprocess.Popen(
        shed.words("yard", file, "--json", "--seconds", str(LIMIT_S)), stdout=subprocess.PIPE, text=True
    ) as yard:
        assert yard.stdout
        yard.stdout.readline()
        code, outcome, _ = shed.send(file, "--interface", "lo")
        sent = outcome["ended"]["counts"]["packets"]
        # A line a second, until all of it is there or the yard's time is up.
        counts = (json.loads(line)["ports"][0]["packets"] for line in yard.stdout)
        arrived = next((count for count in counts if count >= sent), None)
        yard.send_signal(signal.SIGINT)
        rest = [json.loads(line)["ports"][0]["packets"] for line in yard.stdout]
    assert (code, yard.returncode) == (0, 0)
    assert sent >= 4
    assert {arrived, *rest} == {sent}


def no_ipv6(shed: Shed) -> None:
    """Switch IPv6 off for the cable."""
    shed.near.run("sysctl", "-qw", f"net.ipv6.conf.{shed.near.interface}.disable_ipv6=1")


@pytest.mark.parametrize(
    ("change", "to", "interface", "said"),
    [
        (
            None,
            "fe80::7%gone0",
            "",
            "at fe80::7%gone0: interface 'gone0': no such interface. Choose one of: ",
        ),
        (None, "fe80::7%shed0", "lo", "at fe80::7%shed0: it is on shed0, but packets are to leave by lo."),
        (no_ipv6, "multicast6", "shed0", "controller at multicast6: interface 'shed0' has no IPv6 address."),
        (no_ipv6, "fd61::2", "shed0", "controller at fd61::2: interface 'shed0' has no IPv6 address."),
        (no_ipv6, "fe80::7%shed0", "", "at fe80::7%shed0: interface 'shed0' has no IPv6 address."),
        (
            None,
            "multicast6",
            "lo",
            "at multicast6: this machine has no route for IPv6 groups by interface 'lo'.",
        ),
    ],
)
def test_what_cannot_be_is_said_before_anything_is_sent(
    shed: Shed, change: Callable[[Shed], None] | None, to: str, interface: str, said: str
):
    """One sentence on standard error with what to do, and exit code 1."""
    if change:
        change(shed)
    chosen = ("--interface", interface) if interface else ()
    code, outcome, told = shed.send("-u", "1", "--to", to, *chosen)
    assert code == 1
    assert outcome["ok"] is False
    assert said in told
    assert said in outcome["error"]


def test_an_address_that_no_route_leads_to_is_counted_and_said(shed: Shed):
    """As with IPv4: it may come, so the run goes on. 2001:db8::/32 is for documentation, RFC 3849."""
    code, outcome, _ = shed.send("-u", "1", "--to", "2001:db8::7")
    assert code == 1
    assert outcome["route"] == "no interface leads there"
    assert set(outcome["ended"]["counts"]["errors"]) == {"ENETUNREACH"}
    assert "this machine has no way to that network" in outcome["ended"]["complaints"][0]
