import errno
import socket

import pytest

from streamer.net.linux import IS_LINUX
from streamer.net.zones import destination_of, socket_name, without_zone, zone_of

pytestmark = pytest.mark.skipif(not IS_LINUX, reason="the loopback interface is called lo")


def test_a_zone_is_looked_up_when_it_is_used():
    """RFC 4007 clause 11.2: fe80::1%lo is a host on that interface. Reference: Python's getaddrinfo."""
    assert socket_name(("fe80::1%lo", 9)) == socket.getaddrinfo("fe80::1%lo", 9, type=socket.SOCK_DGRAM)[0][4]
    assert (zone_of("fe80::1%lo"), without_zone("fe80::1%lo")) == ("lo", "fe80::1")


def test_an_address_without_a_zone_stays_as_it_is():
    """IPv4 has none, and most addresses of IPv6 need none."""
    for address in ("192.168.7.20", "fd00:7::20", "::1"):
        assert socket_name((address, 9)) == (address, 9)
        assert (zone_of(address), without_zone(address)) == ("", address)


def test_a_zone_that_is_not_there_is_a_missing_interface():
    """ENODEV has its sentence; no name server is asked."""
    with pytest.raises(OSError, match="no such interface") as told:
        socket_name(("fe80::1%gone0", 9))
    assert told.value.errno == errno.ENODEV


def test_what_a_socket_gives_gets_its_zone_back():
    """Python leaves the zone out of the text; a scope that is no interface any more is left out too."""
    index = socket.if_nametoindex("lo")
    assert destination_of(("fe80::1", 9, 0, index)) == ("fe80::1%lo", 9)
    assert destination_of(("fe80::1", 9, 0, 999_999)) == ("fe80::1", 9)
    assert destination_of(("fd00::1", 9, 0, 0)) == ("fd00::1", 9)
    assert destination_of(("127.0.0.1", 9)) == ("127.0.0.1", 9)
