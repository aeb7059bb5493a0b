"""Which way a run's packets leave: by IPv4, by IPv6, or both."""

import pytest

from streamer.display.model import Display, Protocol
from streamer.display.ranges import display_from_ranges
from streamer.engine.messages import Setup
from streamer.engine.outlet import Outlet, open_outlet
from streamer.errors import NetworkError
from streamer.net.linux import IS_LINUX
from streamer.net.sender import RecordingSender

pytestmark = pytest.mark.skipif(not IS_LINUX, reason="the loopback interface is called lo")


def to(*addresses: str) -> Display:
    """Return a display of one universe at each of these addresses."""
    return display_from_ranges((300,), Protocol.E131, addresses)


def test_both_kinds_of_groups_get_the_same_octets():
    """ANSI E1.31-2018 Tables 9-10 to 9-12: 300 is 239.255.1.44 and ff18::8300:12c, on UDP port 5568."""
    ipv4, ipv6 = RecordingSender(), RecordingSender()
    outlet = Outlet(RecordingSender(), (ipv4,), "", {}, (ipv6,))
    outlet.send_to_groups(b"octets", 300)
    outlet.close()
    assert ipv4.sent == [(b"octets", ("239.255.1.44", 5568))]
    assert ipv6.sent == [(b"octets", ("ff18::8300:12c", 5568))]
    assert ipv6.is_closed


@pytest.mark.parametrize(
    ("addresses", "ipv4", "ipv6"),
    [(("127.0.0.1",), 1, 0), (("::1",), 0, 1), (("127.0.0.1", "::1"), 1, 1)],
)
@pytest.mark.parametrize("interface", [None, "lo"])
def test_each_kind_is_used_only_where_a_controller_is_reached_by_it(
    addresses: tuple[str, ...], ipv4: int, ipv6: int, interface: str | None
):
    """Announcements and synchronization follow the levels."""
    outlet = open_outlet(Setup(display=to(*addresses), interface=interface))
    outlet.close()
    assert (len(outlet.discovery), len(outlet.discovery_ipv6)) == (ipv4, ipv6)
    assert outlet.words.startswith("lo (")


def test_a_zone_that_is_not_there_is_refused_with_the_choices():
    """Before anything is sent."""
    with pytest.raises(NetworkError, match=r"interface 'gone0': no such interface\. Choose one of: lo"):
        open_outlet(Setup(display=to("fe80::7%gone0")))
