"""Asking for an echo over a cable between two hosts, as an ordinary user may, or may not."""

import select
import subprocess
import time

import pytest

from streamer.errors import NetworkError
from streamer.net.echo import Answer, Echoes, EchoNotAllowedError
from streamer.net.interfaces import find_interface
from tests.peers.dissection import wait_until_it_captures
from tests.rig.cable import Cable

pytestmark = pytest.mark.rig

DEADLINE_S = 5.0
EVERY_GROUP = "net.ipv4.ping_group_range=0 2147483647"
NO_GROUP = "net.ipv4.ping_group_range=1 0"
ADDRESSES = ("10.61.0.2", "fd61::2", "fe80::61%shed0")


@pytest.fixture(name="allowed")
def _allowed(cable: Cable) -> Cable:
    near, far = cable.near, cable.far
    near.run("sysctl", "-w", EVERY_GROUP)
    for host, own in ((near, "fd61::1/64"), (far, "fd61::2/64"), (near, "fe80::60/64"), (far, "fe80::61/64")):
        host.ip("address", "add", own, "dev", host.interface, "nodad")
    return cable


def answered(echoes: Echoes, count: int) -> list[Answer]:
    """Wait for so many answers."""
    found: list[Answer] = []
    while len(found) < count:
        assert select.select(echoes.filenos, [], [], DEADLINE_S)[0], f"only {found} of {count}"
        found += echoes.answers(time.monotonic())
    return found


@pytest.mark.parametrize("is_pinned", [False, True])
def test_hosts_of_both_versions_answer_each_request_once(allowed: Cable, is_pinned: bool):  # noqa: FBT001  a parameter
    """A plain address, one of IPv6, and a link-local one with its zone."""
    with allowed.near.inside(), Echoes(find_interface("shed0") if is_pinned else None) as echoes:
        for _ in range(3):
            for address in ADDRESSES:
                echoes.ask(address, time.monotonic())
        found = answered(echoes, 9)
        assert sorted(each.address for each in found) == sorted(ADDRESSES * 3)
        assert all(0 < each.after_s < DEADLINE_S for each in found)
        assert echoes.answers(time.monotonic()) == []


def test_this_machine_answers_itself_although_an_interface_is_chosen(allowed: Cable):
    """Loopback never leaves: RFC 1122 clause 3.2.1.3."""
    with allowed.near.inside(), Echoes(find_interface("shed0")) as echoes:
        echoes.ask("127.0.0.1", 0.0)
        echoes.ask("::1", 0.0)
        assert {each.address for each in answered(echoes, 2)} == {"127.0.0.1", "::1"}


def test_where_no_group_may_it_is_said_with_the_setting_and_what_to_do(cable: Cable):
    """As icmp(7) names the setting; root is no exception."""
    cable.near.run("sysctl", "-w", NO_GROUP)
    with cable.near.inside(), Echoes() as echoes:
        for address in ("10.61.0.2", "fd61::2"):
            with pytest.raises(EchoNotAllowedError, match=r"ping_group_range is '1 0'.*sysctl -w net"):
                echoes.ask(address, 0.0)


def test_no_way_there_is_the_systems_refusal_and_not_a_forbidden_echo(allowed: Cable):
    """ENETUNREACH."""
    with allowed.near.inside(), Echoes() as echoes:
        with pytest.raises(NetworkError, match="no way to that network") as refused:
            echoes.ask("192.0.2.1", 0.0)
        assert not isinstance(refused.value, EchoNotAllowedError)


def test_a_host_that_is_not_there_is_no_answer_and_no_error(allowed: Cable):
    """The next one's answer still comes."""
    with allowed.near.inside(), Echoes() as echoes:
        for address in ("10.61.0.77", "10.61.0.2"):
            echoes.ask(address, time.monotonic())
        assert [each.address for each in answered(echoes, 1)] == ["10.61.0.2"]


@pytest.mark.tshark
def test_tshark_finds_both_checksums_right_on_the_cable(allowed: Cable):
    """That of IPv6 is the kernel's."""
    near, far = allowed.near, allowed.far
    fields = ("icmp.type", "icmp.checksum.status", "icmpv6.type", "icmpv6.checksum.status")
    words = [word for field in fields for word in ("-e", field)]
    kinds = "icmp or (icmp6 and (ip6[40] == 128 or ip6[40] == 129))"
    command = ["tshark", "-l", "-n", "-i", far.interface, "-f", kinds, "-c", "4", "-a", "duration:15"]
    with subprocess.Popen(
        ["ip", "netns", "exec", far.namespace, *command, "-T", "fields", "-E", "separator=;", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as tshark:
        wait_until_it_captures(tshark)
        with near.inside(), Echoes() as echoes:
            for address in ADDRESSES[:2]:
                echoes.ask(address, time.monotonic())
            answered(echoes, 2)
        told = tshark.communicate(timeout=20)[0]
    assert sorted(told.split()) == ["0;1;;", "8;1;;", ";;128;1", ";;129;1"]
