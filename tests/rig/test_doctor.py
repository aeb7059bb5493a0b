"""`ropewalk doctor` on a real cable, with each link of the chain broken for real in turn."""

import json
import select
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import pytest
import sacn

from streamer.net.receiver import UdpReceiver
from tests.doctor.eyes import CONTROLLER
from tests.pipes import piped
from tests.rig.cable import Cable, Host
from tests.wire.golden import G4

pytestmark = pytest.mark.rig

ROPEWALK = str(Path(sys.executable).with_name("ropewalk"))
LIMIT_S = 40
HEAD = 'name = "Lake"\n'
HOLDS = """
import socket, sys, time
sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
sock.bind(("", int(sys.argv[1])))
print("here", flush=True)
time.sleep(60)
"""
ANSWERS_POLLS = """
import socket, sys
sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
sock.bind(("", 6454))
print("here", flush=True)
for _ in range(100):
    octets, (host, _port) = sock.recvfrom(2048)
    if octets[:10] == b"Art-Net\\x00\\x00\\x20":
        sock.sendto(bytes.fromhex(sys.argv[1]), (host, 6454))
"""
SENDS = """
import socket, sys, time
sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
sock.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton(sys.argv[2]))
packet = bytearray.fromhex(sys.argv[1])
print("here", flush=True)
for number in range(1500):
    packet[111] = number % 256
    sock.sendto(packet, (sys.argv[3], 5568))
    time.sleep(0.02)
"""


def controller(name: str, address: str, universe: int = 1, protocol: str = "e131") -> str:
    """Return one controller of a display file."""
    key = "universe" if protocol == "e131" else "port_address"
    return CONTROLLER.format(name=name, address=address, universe=universe, protocol=protocol, key=key)


class Shed:
    """The command on the near host, in folders of its own; programs beside it on either host."""

    def __init__(self, cable: Cable, folder: Path, stack: ExitStack) -> None:
        self.cable, self.near, self.far = cable, cable.near, cable.far
        self._folder, self._stack = folder, stack

    def command(self, file: str, *words: str) -> list[str]:
        """Return the whole command, having written the file."""
        path = self._folder / "display.toml"
        path.write_text(HEAD + file)
        settings = [f"ROPEWALK_{name}_DIR={self._folder}/{name[0]}" for name in ("RUNTIME", "CONFIG")]
        near = ["ip", "netns", "exec", self.near.namespace, "env", *settings]
        return [*near, ROPEWALK, "doctor", str(path), *words]

    def doctor(self, file: str, *words: str, seconds: str = "0.2") -> "Found":
        """Let the doctor come."""
        done = subprocess.run(
            self.command(file, *words, "--seconds", seconds, "--json"),
            capture_output=True,
            text=True,
            check=False,
            timeout=LIMIT_S,
        )
        assert "Traceback" not in done.stderr, done.stderr
        return Found(done.returncode, json.loads(done.stdout))

    def begin(self, host: Host, program: str, *words: str) -> None:
        """Start a program of this test on a host, and end it with the test."""
        command = ["ip", "netns", "exec", host.namespace, sys.executable, "-c", program, *words]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        self._stack.callback(piped(process.stdout).close)
        self._stack.callback(process.wait)
        self._stack.callback(process.kill)
        assert piped(process.stdout).readline() == "here\n"

    def allow_echo(self) -> None:
        """Let every user ask for an echo: icmp(7)."""
        self.near.run("sysctl", "-w", "net.ipv4.ping_group_range=0 2147483647")

    def route_groups(self) -> None:
        """Let multicast leave by the cable."""
        self.near.ip("route", "add", "239.255.0.0/16", "dev", self.near.interface)


class Found:
    """What the doctor found."""

    def __init__(self, code: int, told: dict[str, Any]) -> None:
        self.code, self.told = code, told

    def state(self, link: str, subject: str = "") -> str:
        """Return the state of the only check of a link, or of a subject that begins so."""
        (check,) = [each for each in self.told["checks"] if self._is(each, link, subject)]
        return str(check["state"])

    @staticmethod
    def _is(check: dict[str, str], link: str, subject: str) -> bool:
        return check["link"] == link and check["subject"].startswith(subject)

    def is_first(self, link: str, saw: str, instead: str) -> bool:
        """Whether the first broken link is this one, told in words that hold these."""
        first = self.told["first_broken"]
        assert first is not None, self.told
        assert (first["link"], self.code, self.told["ok"]) == (link, 1, False), first
        assert saw in first["saw"], first
        assert instead in first["instead"], first
        return True


@pytest.fixture(name="shed")
def _shed(cable: Cable) -> Iterator[Shed]:
    folder = Path(tempfile.mkdtemp(prefix="rw"))
    with ExitStack() as stack:
        yield Shed(cable, folder, stack)
    shutil.rmtree(folder, ignore_errors=True)


JETTY = controller("jetty", "10.61.0.2")
LAWN = controller("lawn", "multicast", 5)
LOFT = controller("loft", "10.61.0.2", 3, "artnet")


def test_all_well_is_told_with_exit_code_0(shed: Shed):
    """An E1.31 controller that answers an echo, an Art-Net node that answers ArtPoll, and multicast."""
    shed.allow_echo()
    shed.route_groups()
    shed.begin(shed.far, ANSWERS_POLLS, G4.octets.hex())
    found = shed.doctor(JETTY + LAWN + LOFT)
    states = {each["state"] for each in found.told["checks"]}
    assert states == {"well", "not looked at"}, found.told
    assert (found.code, found.told["ok"], found.told["first_broken"]) == (0, True, None)
    unseen = [each["subject"] for each in found.told["checks"] if each["state"] == "not looked at"]
    assert unseen == ["lawn (multicast)"]
    (loft,) = [
        each
        for each in found.told["checks"]
        if each["subject"].startswith("loft") and each["link"] == "answer"
    ]
    assert "'strand-node' answered" in loft["saw"]


def test_an_interface_that_is_down(shed: Shed):
    """It is the first; what rests on it is not looked at, and the ports still are."""
    shed.near.ip("link", "set", shed.near.interface, "down")
    found = shed.doctor(JETTY)
    assert found.is_first("interface", "switched off (10.61.0.1/24)", "ip link set shed0 up")
    assert {found.state(link) for link in ("way", "groups", "answer", "other sources")} == {"not looked at"}
    assert {found.state(link) for link in ("port", "own runs")} == {"well"}


@pytest.mark.parametrize("words", [(), ("--interface", "shed0")])
def test_a_cable_that_leads_nowhere(shed: Shed, words: tuple[str, ...]):
    """The far end is switched off."""
    shed.far.ip("link", "set", shed.far.interface, "down")
    found = shed.doctor(JETTY + LAWN, *words)
    assert found.is_first("interface", "its cable leads nowhere", "Plug it in, or switch on the far end")
    assert found.state("way") == "not looked at"


def test_an_interface_that_is_not_there(shed: Shed):
    """The choices are told."""
    found = shed.doctor(JETTY, "--interface", "shed7")
    assert found.is_first("interface", "there is no such interface", "shed0 (10.61.0.1")


def test_the_wrong_subnet(shed: Shed):
    """No route at all: what this machine has is told, and an address that would do."""
    found = shed.doctor(controller("jetty", "192.168.7.50"))
    assert found.is_first("way", "shed0 has 10.61.0.1/24", "such as 192.168.7.1/24")
    assert (found.state("interface"), found.state("answer")) == ("well", "not looked at")


def test_the_wrong_subnet_with_a_router_that_does_not_lead_there(shed: Shed):
    """As at home: the way is a remark, the silence is broken and names the cause."""
    shed.allow_echo()
    shed.near.ip("route", "add", "default", "via", "10.61.0.9")
    found = shed.doctor(controller("jetty", "192.168.7.50"))
    assert found.is_first("answer", "nothing within 3 s", "such as 192.168.7.1/24")
    assert found.state("way") == "remark"


def test_no_route_for_multicast(shed: Shed):
    """And with the interface that it proposes all is well."""
    found = shed.doctor(LAWN)
    assert found.is_first("multicast way", "no way to that network", "--interface shed0")
    assert (found.state("groups"), found.state("own multicast")) == ("not looked at", "not looked at")
    assert shed.doctor(LAWN, "--interface", "shed0").code == 0


@pytest.mark.parametrize(("file", "port"), [(JETTY, "5568"), (LOFT, "6454")])
def test_a_port_that_is_taken(shed: Shed, file: str, port: str):
    """By whom is told; the echo is asked for all the same."""
    shed.allow_echo()
    shed.begin(shed.near, HOLDS, port)
    found = shed.doctor(file)
    assert found.is_first("port", "held by process", "End that program")
    assert (found.state("answer"), found.state("other sources")) == ("well", "not looked at")


RULES = {
    "a group of the display's, in": ("input", "ip daddr 239.255.0.5 drop", "239.255.0.5"),
    "E1.31's port, in": ("input", "udp dport 5568 drop", "239.255.250.214"),
    "all groups, out": ("output", "ip daddr 239.255.0.0/16 drop", "firewall forbids it"),
}


@pytest.mark.parametrize("kind", RULES)
def test_multicast_that_is_filtered(shed: Shed, kind: str):
    """By nftables on this machine: nft(8)."""
    if shutil.which("nft") is None:
        pytest.skip("needs nftables")
    hook, rule, saw = RULES[kind]
    for words in (
        "add table inet yard",
        f"add chain inet yard here {{ type filter hook {hook} priority 0 ; }}",
        f"add rule inet yard here {rule}",
    ):
        shed.near.run("nft", words)
    shed.route_groups()
    assert shed.doctor(LAWN).is_first("own multicast", saw, "")


@pytest.mark.parametrize(
    ("priority", "code", "state"), [(150, 1, "broken"), (100, 1, "broken"), (50, 0, "remark")]
)
def test_a_second_source(shed: Shed, priority: int, code: int, state: str):
    """Of the library's making. ANSI E1.31-2018 6.2.3: the higher priority wins; ours is 100 by the file."""
    shed.allow_echo()
    packet = sacn.DataPacket((7,) * 16, "Boathouse", 1, dmxData=(9,) * 512, priority=priority)
    shed.begin(shed.far, SENDS, bytes(packet.getBytes()).hex(), shed.far.address, "239.255.0.1")
    found = shed.doctor(JETTY, seconds="1.5")
    assert (found.code, found.state("other sources", "'Boathouse' at 10.61.0.2")) == (code, state)


def test_a_controller_that_is_gone(shed: Shed):
    """Nobody has the address."""
    shed.allow_echo()
    found = shed.doctor(controller("jetty", "10.61.0.77") + controller("loft", "10.61.0.78", 3, "artnet"))
    assert found.is_first("answer", "nothing within 3 s", "Check its power")
    assert (found.state("way", "jetty"), found.state("answer", "loft")) == ("well", "broken")


def no_echo(shed: Shed) -> None:
    """Have the far host answer no echo: icmp(7), and Documentation/networking/ip-sysctl of Linux."""
    shed.far.run("sysctl", "-qw", "net.ipv4.icmp_echo_ignore_all=1")


@pytest.mark.parametrize("state", ["", "stale"])
def test_a_controller_that_answers_no_echo_is_there_by_its_hardware_address(shed: Shed, state: str):
    """RFC 826: who does not answer that is not there. Also where the kernel knew it long ago."""
    shed.allow_echo()
    no_echo(shed)
    near, far = shed.near, shed.far
    if state:
        (link,) = json.loads(far.ip("-json", "link", "show", "dev", far.interface))
        near.ip(
            *("neigh", "replace", far.address, "lladdr", link["address"]),
            *("dev", near.interface, "nud", state),
        )
    found = shed.doctor(JETTY)
    assert (found.code, found.state("answer")) == (0, "remark"), found.told
    (answer,) = [each for each in found.told["checks"] if each["link"] == "answer"]
    assert "its hardware address was confirmed" in answer["saw"]


def test_a_controller_whose_hardware_address_was_known_once_is_gone_all_the_same(shed: Shed):
    """RFC 4861 clause 7.3.2: stale is not reachable; the kernel asks anew, and nobody answers."""
    shed.allow_echo()
    near = shed.near
    near.ip(
        *("neigh", "replace", "10.61.0.77", "lladdr", "02:00:00:00:00:77"),
        *("dev", near.interface, "nud", "stale"),
    )
    assert shed.doctor(controller("jetty", "10.61.0.77")).is_first("answer", "nothing within 3 s", "power")


def test_a_node_that_answers_an_echo_alone_is_a_remark(shed: Shed):
    """Art-Net may be switched off in it; there are some that never answer."""
    shed.allow_echo()
    found = shed.doctor(LOFT)
    assert (found.code, found.state("answer")) == (0, "remark")


def test_where_no_echo_may_be_asked_for_it_says_so(shed: Shed):
    """Nothing is known then of an E1.31 controller, and an Art-Net node answers ArtPoll."""
    shed.near.run("sysctl", "-w", "net.ipv4.ping_group_range=1 0")
    shed.begin(shed.far, ANSWERS_POLLS, G4.octets.hex())
    shed.far.ip("address", "add", "10.61.0.3/24", "dev", shed.far.interface)
    found = shed.doctor(controller("jetty", "10.61.0.3") + LOFT)
    assert (found.code, found.state("answer", "loft"), found.state("answer", "jetty")) == (
        0,
        "well",
        "not looked at",
    )


def test_nothing_that_it_sends_carries_levels(shed: Shed):
    """Every UDP datagram on the cable: the library takes none for levels; groups and ports are as promised.

    ANSI E1.31-2018 appendix A: 239.255.250.214 is the discovery universe's group, and root vector 8 is not
    that of data. Art-Net 4: OpCode 0x2000 is ArtPoll. None goes to the display's own groups on E1.31's port.
    """
    shed.allow_echo()
    shed.route_groups()
    with captured(shed.far) as datagrams:
        shed.doctor(JETTY + LAWN + LOFT)
        seen = datagrams()
    assert {(to, port) for to, port, _ in seen if port in {5568, 6454}} == {
        ("239.255.250.214", 5568),
        ("10.61.0.2", 6454),
    }
    for _, port, octets in seen:
        with pytest.raises(TypeError):
            sacn.DataPacket.make_data_packet(tuple(octets))
        if port == 5568:
            assert octets[18:22] == (8).to_bytes(4, "big")
        if octets.startswith(b"Art-Net"):
            assert octets[8:10] == b"\x00\x20"


@contextmanager
def captured(host: Host) -> Iterator[Callable[[], list[tuple[str, int, bytes]]]]:
    """Read what arrives at a host's interface: packet(7); destination, port, payload of UDP in IPv4."""
    every_protocol, ipv4, udp = 3, b"\x08\x00", 17
    with host.inside():
        tap = socket.socket(socket.AF_PACKET, socket.SOCK_RAW, socket.htons(every_protocol))
        tap.bind((host.interface, 0))
    tap.setblocking(False)

    def read() -> list[tuple[str, int, bytes]]:
        found, frames = [], iter(lambda: _frame(tap), None)
        for frame in frames:
            header = frame[14:]
            if frame[12:14] == ipv4 and header[9] == udp and header[12:16] == socket.inet_aton("10.61.0.1"):
                datagram = header[(header[0] & 15) * 4 :]
                port, length = (int.from_bytes(datagram[at : at + 2], "big") for at in (2, 4))
                found.append((socket.inet_ntoa(header[16:20]), port, datagram[8:length]))
        return found

    with tap:
        yield read


def _frame(tap: socket.socket) -> bytes | None:
    try:
        return tap.recv(2048)
    except BlockingIOError:
        return None


def test_ctrl_c_ends_it_with_what_was_found_so_far(shed: Shed):
    """In words, with exit code 1; and when it is killed nothing of it is left."""
    command = shed.command(JETTY, "--seconds", "30")
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout
        out = ""
        while "interface shed0" not in out:
            line = piped(process.stdout).readline()
            assert line, out
            out += line
        process.send_signal(signal.SIGINT)
        rest, err = process.communicate(timeout=LIMIT_S)
        out += rest
    assert (process.returncode, err) == (1, "")
    assert "Stopped before the end." in out
    assert "interface shed0" in out


def test_everybody_is_asked_where_levels_go_to_everybody(shed: Shed):
    """A broadcast address: whoever answers ArtPoll is told with its address."""
    shed.begin(shed.far, ANSWERS_POLLS, G4.octets.hex())
    found = shed.doctor(controller("all", "10.61.0.255", 3, "artnet"))
    (answer,) = [each for each in found.told["checks"] if each["link"] == "answer"]
    assert (found.code, answer["state"]) == (0, "well")
    assert "'strand-node' at 10.61.0.2 answered" in answer["saw"]


def test_ipv6_from_end_to_end(shed: Shed):
    """Groups and a link-local address with its zone; no route for the groups of IPv4 is no fault."""
    shed.allow_echo()
    for host, own in ((shed.near, "fe80::60/64"), (shed.far, "fe80::61/64")):
        host.ip("address", "add", own, "dev", host.interface, "nodad")
    found = shed.doctor(controller("six", "multicast6") + controller("zone", "fe80::61%shed0", 2))
    states = {found.state(link) for link in ("multicast way", "own multicast", "way")}
    assert (found.code, states, found.state("answer", "zone")) == (0, {"well"}, "well"), found.told


def test_a_run_of_our_own_is_a_remark_and_no_other_source(shed: Shed):
    """It is known by its CID, and is told by its name with how to stop it."""
    shed.allow_echo()
    command = shed.command(JETTY)
    at = command.index("doctor")
    sending = [*command[:at], "send", "level", command[at + 1]]
    with (
        shed.far.inside(),
        UdpReceiver(5568, shed.far.address) as jetty,
        subprocess.Popen(sending, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as run,
    ):
        try:
            assert select.select([jetty], [], [], LIMIT_S)[0], "it did not begin"
            found = shed.doctor(JETTY, seconds="1.5")
        finally:
            run.send_signal(signal.SIGINT)
            run.communicate(timeout=LIMIT_S)
    assert (found.code, found.state("other sources"), found.state("port")) == (0, "well", "well"), found.told
    (own,) = [each for each in found.told["checks"] if each["link"] == "own runs"]
    assert (own["state"], "ropewalk stop send-" in own["instead"]) == ("remark", True)
