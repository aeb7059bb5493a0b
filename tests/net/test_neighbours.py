"""The first packet to a cold host goes alone; time is an argument."""

import numpy as np
import pytest

from streamer.net.neighbours import CHECK_EACH_S, SILENT_S, WARMING_S, Neighbours

JETTY, LOFT = "192.168.7.50", "192.168.7.51"


@pytest.fixture(name="neighbours")
def _neighbours() -> Neighbours:
    return Neighbours()


def may_go(neighbours: Neighbours, now_s: float, *addresses: str) -> list[bool]:
    """Ask for packets to these addresses."""
    numbers = np.array([neighbours.number_of(each) for each in addresses])
    return neighbours.may_go(numbers, now_s).tolist()


def test_of_a_cold_host_the_first_packet_goes_alone(neighbours: Neighbours):
    """Of each host its own first."""
    assert may_go(neighbours, 0.0, JETTY, LOFT, JETTY, LOFT, LOFT) == [True, True, False, False, False]


def test_while_it_warms_one_packet_a_call_goes_and_then_all(neighbours: Neighbours):
    """A stream of one universe misses none, at however many frames a second."""
    may_go(neighbours, 0.0, JETTY, JETTY)
    assert may_go(neighbours, WARMING_S / 2, JETTY, JETTY) == [True, False]
    assert may_go(neighbours, WARMING_S, JETTY, JETTY) == [True, True]


def test_a_host_is_cold_again_after_silence_and_only_then(neighbours: Neighbours):
    """RFC 4861 clause 10: REACHABLE_TIME is 30,000 ms; ARP in Linux goes by the same time."""
    may_go(neighbours, 0.0, JETTY)
    assert may_go(neighbours, SILENT_S, JETTY, JETTY) == [True, True]
    assert may_go(neighbours, 2 * SILENT_S + 0.1, JETTY, JETTY) == [True, False]


@pytest.mark.parametrize("address", ["127.0.0.1", "::1", "239.255.0.1", "ff18::8300:1"])
def test_groups_and_loopback_have_no_hardware_address_to_ask_for(neighbours: Neighbours, address: str):
    """RFC 1112 clause 6.4: a group's is computed."""
    assert may_go(neighbours, 0.0, address, address) == [True, True]


def test_a_forgotten_host_is_cold_and_the_others_are_not(neighbours: Neighbours):
    """As after EHOSTUNREACH: it had no address, or has it no longer."""
    may_go(neighbours, 0.0, JETTY, LOFT)
    neighbours.forget(JETTY)
    assert may_go(neighbours, 1.0, JETTY, JETTY, LOFT, LOFT) == [True, False, True, True]


def test_all_are_cold_after_the_cable_was_out(neighbours: Neighbours):
    """Linux drops the addresses that it knows by an interface with its carrier."""
    may_go(neighbours, 0.0, JETTY, LOFT)
    neighbours.forget_all()
    assert may_go(neighbours, 1.0, JETTY, JETTY, LOFT, LOFT) == [True, False, True, False]


def test_a_proof_holds_for_a_while_or_until_something_is_forgotten(neighbours: Neighbours):
    """So that hosts are not looked up for every frame."""
    warm = neighbours.warm_from(0.0)
    assert neighbours.is_still(warm, CHECK_EACH_S / 2)
    assert not neighbours.is_still(warm, CHECK_EACH_S)
    may_go(neighbours, 0.0, JETTY)
    neighbours.forget(JETTY)
    assert not neighbours.is_still(warm, CHECK_EACH_S / 2)


def test_there_is_room_for_any_number_of_hosts(neighbours: Neighbours):
    """A thousand controllers, each once and each twice."""
    hosts = [f"10.61.{number // 250}.{number % 250 + 1}" for number in range(1000)]
    assert all(may_go(neighbours, 0.0, *hosts))
    assert sum(may_go(neighbours, WARMING_S / 2, *hosts, *hosts)) == 1000
