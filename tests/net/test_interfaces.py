import ipaddress
import json
import shutil
import socket
import subprocess
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import SimpleNamespace

import pytest

from streamer.errors import NetworkError
from streamer.net.interfaces import (
    Machine,
    broadcast_addresses,
    find_interface,
    interface_towards,
    list_interfaces,
)

LISTED: dict[str, list[dict[str, str]]] = {
    "lo": [{"addr": "127.0.0.1", "netmask": "255.0.0.0", "peer": "127.0.0.1"}],
    "jetty0": [{"addr": "192.168.7.20", "netmask": "255.255.255.0", "broadcast": "192.168.7.255"}],
    "loft0": [{"addr": "36.40.0.62", "netmask": "255.0.0.0"}],
    "spare0": [],
}
LISTED_IPV6 = {
    "jetty0": [
        {"addr": "fe80::5a%jetty0", "netmask": "ffff:ffff:ffff:ffff::/64"},
        {"addr": "2001:db8::5a", "netmask": "ffff:ffff:ffff:ffff::/64"},
    ]
}
FLAGS = {
    "lo": "up,loopback,running",
    "jetty0": "up,broadcast,running,multicast",
    "loft0": "up,broadcast,multicast",
    "spare0": "broadcast,multicast",
}


def _addresses(name: str) -> Mapping[int, Sequence[Mapping[str, str]]]:
    return {int(socket.AF_INET): LISTED[name], int(socket.AF_INET6): LISTED_IPV6.get(name, [])}


@pytest.fixture(name="boathouse")
def _boathouse(tmp_path: Path) -> Machine:
    """Make a machine with a cable in jetty0, no link on loft0 (Wi-Fi), and spare0 switched off."""
    for name in FLAGS:
        (tmp_path / name).mkdir()
    (tmp_path / "jetty0" / "carrier").write_text("1\n")
    (tmp_path / "loft0" / "carrier").write_text("0\n")
    (tmp_path / "loft0" / "wireless").mkdir()
    return Machine(
        names=lambda: list(enumerate(FLAGS, start=1)),
        addresses=_addresses,
        stats=lambda: {
            name: SimpleNamespace(isup="running" in flags, flags=flags) for name, flags in FLAGS.items()
        },
        sys_class_net=tmp_path,
    )


def test_every_interface_is_listed_in_the_systems_order(boathouse: Machine):
    """Names and indices are those of the system, down ones included."""
    listed = [(each.index, each.name) for each in list_interfaces(boathouse)]
    assert listed == [(1, "lo"), (2, "jetty0"), (3, "loft0"), (4, "spare0")]


def test_a_pulled_cable_is_told_from_an_interface_that_is_down(boathouse: Machine):
    """No carrier leaves an interface up; one that is down has no carrier to know of."""
    up_and_carrier = {each.name: (each.is_up, each.has_carrier) for each in list_interfaces(boathouse)}
    assert up_and_carrier == {
        "lo": (True, None),
        "jetty0": (True, True),
        "loft0": (True, False),
        "spare0": (False, None),
    }


def test_wireless_loopback_and_multicast_are_told(boathouse: Machine):
    """Wi-Fi is known by the system's own mark; loopback carries groups although it is not flagged so."""
    lo, jetty, loft, _ = list_interfaces(boathouse)
    assert [each.is_wireless for each in (lo, jetty, loft)] == [False, False, True]
    assert [each.is_loopback for each in (lo, jetty, loft)] == [True, False, False]
    assert all(each.can_multicast for each in (lo, jetty, loft))


def test_what_a_platform_does_not_tell_is_none(boathouse: Machine):
    """Where there is no /sys and psutil gives no flags, carrier and Wi-Fi are None, not guesses."""
    bare = Machine(
        names=boathouse.names,
        addresses=_addresses,
        stats=lambda: {name: SimpleNamespace(isup=name != "spare0", flags="") for name in FLAGS},
        sys_class_net=None,
    )
    jetty, spare = find_interface("jetty0", bare), list_interfaces(bare)[-1]
    assert (jetty.is_up, spare.is_up) == (True, False)
    assert (jetty.has_carrier, jetty.is_wireless) == (None, None)


def test_an_interface_that_vanishes_while_being_listed_has_no_addresses(boathouse: Machine):
    """A name that is gone makes netifaces raise ValueError; that is no error of the listing."""

    def gone(name: str) -> Mapping[int, Sequence[Mapping[str, str]]]:
        raise ValueError(name)

    machine = Machine(boathouse.names, gone, boathouse.stats, boathouse.sys_class_net)
    assert all(each.addresses == () for each in list_interfaces(machine))


def test_ipv6_addresses_are_listed_without_their_zone(boathouse: Machine):
    """RFC 4007 clause 11: the zone of a link-local address is the interface itself."""
    lo, jetty, *_ = list_interfaces(boathouse)
    assert (lo.ipv6_addresses, jetty.ipv6_addresses) == ((), ("fe80::5a", "2001:db8::5a"))


@pytest.mark.parametrize("wanted", ["jetty0", "192.168.7.20", "2001:db8::5a"])
def test_an_interface_is_found_by_name_and_by_address(boathouse: Machine, wanted: str):
    """Either is what a person may know."""
    assert find_interface(wanted, boathouse).name == "jetty0"


def test_an_unknown_interface_is_refused_with_the_choices(boathouse: Machine):
    """The message names what was asked, and every interface that is up with its address."""
    with pytest.raises(
        NetworkError,
        match=r"'jetty9': no such interface.*jetty0 \(192\.168\.7\.20, fe80::5a, 2001:db8::5a\); loft0",
    ) as told:
        find_interface("jetty9", boathouse)
    assert "spare0" not in str(told.value)


def test_an_interface_that_is_down_is_refused(boathouse: Machine):
    """Sending through it would lose everything."""
    with pytest.raises(NetworkError, match=r"'spare0': it is down\. Switch it on"):
        find_interface("spare0", boathouse)


def test_broadcast_addresses_are_those_of_the_networks_and_the_limited_one(boathouse: Machine):
    """RFC 919 clause 7: 255.255.255.255, and its example 36.255.255.255 for network 36 (from memory)."""
    assert broadcast_addresses(boathouse) == {
        "127.255.255.255",
        "192.168.7.255",
        "36.255.255.255",
        "255.255.255.255",
    }


@pytest.mark.parametrize(
    ("netmask", "told", "broadcast"),
    [
        ("255.255.255.254", {}, None),
        ("255.255.255.255", {}, None),
        ("255.255.255.254", {"broadcast": "192.0.2.6"}, None),
        ("255.255.255.255", {"broadcast": "192.0.2.9"}, None),
        ("255.255.255.0", {"broadcast": "192.0.2.6"}, "192.0.2.255"),
    ],
)
def test_a_broadcast_address_is_never_a_host(
    boathouse: Machine, netmask: str, told: dict[str, str], broadcast: str | None
):
    """RFC 3021: in a /31 both addresses are hosts; a /32 has one only. None set, Linux tells a host's."""
    listed = {"addr": "192.0.2.6", "netmask": netmask} | told
    machine = Machine(
        names=lambda: [(1, "jetty0")],
        addresses=lambda _: {int(socket.AF_INET): [listed]},
        stats=boathouse.stats,
        sys_class_net=None,
    )
    assert find_interface("jetty0", machine).addresses[0].broadcast == broadcast


@pytest.mark.parametrize("address", ["127.0.0.1", "::1"])
def test_loopback_leads_to_loopback(address: str):
    """The system's own routing decides, and nothing is sent."""
    towards = interface_towards(address)
    assert towards is not None
    assert towards.is_loopback


def test_a_host_name_is_refused_before_anybody_is_asked_for_it():
    """A name server is not waited for."""
    with pytest.raises(NetworkError, match=r"'controller\.example': not an IPv4 address"):
        interface_towards("controller.example")


@pytest.mark.skipif(shutil.which("ip") is None, reason="needs iproute2's ip, to compare with")
def test_this_machines_interfaces_agree_with_iproute2():
    """Reference: `ip -json address` (iproute2) on the same machine."""
    told = json.loads(subprocess.run(["ip", "-json", "address"], capture_output=True, check=True).stdout)
    theirs = {
        (
            each["ifindex"],
            each["ifname"],
            "UP" in each["flags"],
            tuple(
                f"{own['local']}/{own['prefixlen']}" for own in each["addr_info"] if own["family"] == "inet"
            ),
            frozenset(own["local"] for own in each["addr_info"] if own["family"] == "inet6"),
        )
        for each in told
    }
    ours = {
        (
            each.index,
            each.name,
            each.is_up,
            tuple(str(ipaddress.IPv4Interface(f"{own.address}/{own.netmask}")) for own in each.addresses),
            frozenset(each.ipv6_addresses),
        )
        for each in list_interfaces()
    }
    assert ours == theirs
