"""The first packet to a cold host goes alone; time is an argument."""

import numpy as np
import pytest

from streamer.net.hosts import CHECK_EACH_S, SILENT_S, WARMING_S, Hosts

JETTY, LOFT = "192.168.7.50", "192.168.7.51"


@pytest.fixture(name="hosts")
def _hosts() -> Hosts:
    return Hosts()


def may_go(hosts: Hosts, now_s: float, *addresses: str) -> list[bool]:
    """Ask for packets to these addresses."""
    numbers = np.array([hosts.number_of(each) for each in addresses])
    return [bool(each) for each in hosts.may_go(numbers, now_s)]


def test_of_a_cold_host_the_first_packet_goes_alone(hosts: Hosts):
    """Of each host its own first."""
    assert may_go(hosts, 0.0, JETTY, LOFT, JETTY, LOFT, LOFT) == [True, True, False, False, False]


def test_while_it_warms_one_packet_a_call_goes_and_then_all(hosts: Hosts):
    """A stream of one universe misses none, at however many frames a second."""
    may_go(hosts, 0.0, JETTY, JETTY)
    assert may_go(hosts, WARMING_S / 2, JETTY, JETTY) == [True, False]
    assert may_go(hosts, WARMING_S, JETTY, JETTY) == [True, True]


def test_a_host_is_cold_again_after_silence_and_only_then(hosts: Hosts):
    """RFC 4861 clause 10: REACHABLE_TIME is 30,000 ms; ARP in Linux goes by the same time."""
    may_go(hosts, 0.0, JETTY)
    assert may_go(hosts, SILENT_S, JETTY, JETTY) == [True, True]
    assert may_go(hosts, 2 * SILENT_S + 0.1, JETTY, JETTY) == [True, False]


@pytest.mark.parametrize("address", ["127.0.0.1", "::1", "239.255.0.1", "ff18::8300:1"])
def test_groups_and_loopback_have_no_hardware_address_to_ask_for(hosts: Hosts, address: str):
    """RFC 1112 clause 6.4: a group's is computed."""
    assert may_go(hosts, 0.0, address, address) == [True, True]


def test_a_forgotten_host_is_cold_and_the_others_are_not(hosts: Hosts):
    """As after EHOSTUNREACH: it had no address, or has it no longer."""
    may_go(hosts, 0.0, JETTY, LOFT)
    hosts.forget(JETTY)
    assert may_go(hosts, 1.0, JETTY, JETTY, LOFT, LOFT) == [True, False, True, True]


def test_all_are_cold_after_the_cable_was_out(hosts: Hosts):
    """Linux drops the addresses that it knows by an interface with its carrier."""
    may_go(hosts, 0.0, JETTY, LOFT)
    hosts.forget_all()
    assert may_go(hosts, 1.0, JETTY, JETTY, LOFT, LOFT) == [True, False, True, False]


def test_a_proof_holds_for_a_while_or_until_something_is_forgotten(hosts: Hosts):
    """So that hosts are not looked up for every frame."""
    warm = hosts.warm_from(0.0)
    assert hosts.is_still(warm, CHECK_EACH_S / 2)
    assert not hosts.is_still(warm, CHECK_EACH_S)
    may_go(hosts, 0.0, JETTY)
    hosts.forget(JETTY)
    assert not hosts.is_still(warm, CHECK_EACH_S / 2)


def test_there_is_room_for_any_number_of_hosts(hosts: Hosts):
    """A thousand controllers, each once and each twice."""
    addresses = [f"10.61.{number // 250}.{number % 250 + 1}" for number in range(1000)]
    assert all(may_go(hosts, 0.0, *addresses))
    assert sum(may_go(hosts, WARMING_S / 2, *addresses, *addresses)) == 1000
