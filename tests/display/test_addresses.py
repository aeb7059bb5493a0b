"""What a controller's address may be, and what is said of one that may not."""

import ipaddress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.display.addresses import address_fault, canonical, is_by_ipv6
from streamer.display.model import Protocol
from streamer.display.ranges import display_from_ranges, readdress
from streamer.errors import PlanError

ARTNET, E131 = Protocol.ARTNET, Protocol.E131


@pytest.mark.parametrize(
    "address",
    ["192.168.7.20", "255.255.255.255", "multicast", "multicast6", "::1", "fd00:7::20", "2001:db8::1",
     "fe80::20%eth0", "fe80::20%br-lan.7"],
)  # fmt: skip
def test_e131_goes_to_these(address: str):
    """Hosts and groups of both kinds: ANSI E1.31-2018 clause 9; zones as in RFC 4007 clause 11."""
    assert address_fault(address, E131) is None


@pytest.mark.parametrize(
    ("address", "protocol", "what", "instead"),
    [
        ("fd00:7::20", ARTNET, "Art-Net is sent over IPv4 only", "192.168.7.20"),
        ("multicast6", ARTNET, "not sent to multicast groups", "192.168.7.255"),
        ("fd00:7::zz", E131, "not an IPv6 address", "fd00:7::20"),
        ("fd00:7::20/64", E131, "not an IPv6 address", "fd00:7::20"),
        ("[fd00:7::20]", E131, "not an IPv6 address", "fd00:7::20"),
        ("192.168.7.20:5568", E131, "not an IPv6 address", "fd00:7::20"),
        ("::", E131, "no controller can be", "fd00:7::20"),
        ("ff18::8300:1", E131, "the multicast group ff18::8300:1", "multicast6"),
        ("ff02::1%eth0", E131, "the multicast group", "multicast6"),
        ("::ffff:192.168.7.20", E131, "written as one of IPv6", "192.168.7.20"),
        ("fe80::20", E131, "not said on which", "fe80::20%eth0"),
        ("FE80:0::20", E131, "not said on which", "fe80::20%eth0"),
        ("fe80::20%", E131, "not an IPv6 address", "fd00:7::20"),
        ("fe80::20%e\x1b[2J", E131, r"fe80::20%e\x1b[2J", "fd00:7::20"),
        ("fd00:7::20%eth0", E131, "only a link-local address", "fd00:7::20"),
    ],
)
def test_others_are_refused_with_what_to_write(address: str, protocol: Protocol, what: str, instead: str):
    """RFC 4291 clauses 2.4 to 2.7 for the kinds of address; nothing unprintable reaches the screen."""
    fault = address_fault(address, protocol)
    assert fault is not None
    assert what in fault.what
    assert fault.address == instead
    assert fault.what.isprintable()


@given(st.text(max_size=30))
def test_no_text_whatever_raises(text: str):
    """An address comes from a file."""
    for protocol in Protocol:
        fault = address_fault(text, protocol)
        assert fault is None or fault.what.isprintable()


@given(st.ip_addresses(v=6))
def test_an_address_has_one_spelling(address: ipaddress.IPv6Address):
    """RFC 5952; or else two strings at one place would not be seen to overlap."""
    assert canonical(address.exploded.upper()) == canonical(str(address)) == str(address)
    assert is_by_ipv6(str(address))


def test_the_same_address_in_two_spellings_is_given_twice():
    """Written in a file or on the command line."""
    with pytest.raises(PlanError, match="fd00:7::20 is given twice"):
        display_from_ranges((1,), E131, ("fd00:7::20", "FD00:7:0::20"))
    display = display_from_ranges((1,), E131, ("FD00:7:0::20",))
    assert display.controllers[0].address == "fd00:7::20"
    assert readdress(display, ("FE80::7%eth0",)).controllers[0].address == "fe80::7%eth0"
