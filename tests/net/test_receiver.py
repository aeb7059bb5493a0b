import os
import select
import socket
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from streamer.errors import NetworkError
from streamer.net.interfaces import Interface
from streamer.net.linux import IS_LINUX
from streamer.net.receiver import Datagram, UdpReceiver
from streamer.net.sender import UdpSender

Listen = Callable[..., UdpReceiver]
Heard = Callable[[UdpReceiver, int], list[Datagram]]

GROUP, OTHER_GROUP = "239.255.61.1", "239.255.61.2"
only_linux = pytest.mark.skipif(not IS_LINUX, reason="needs what Linux tells of a datagram")


@only_linux
def test_a_datagram_says_where_it_came_from_and_was_sent_to(sender: UdpSender, listen: Listen, heard: Heard):
    """As ip(7) promises of IP_PKTINFO."""
    receiver = listen()
    sender.send_one(b"hello", ("127.0.0.1", receiver.port))
    (datagram,) = heard(receiver, 1)
    assert (datagram.payload, datagram.source[0], datagram.destination) == (
        b"hello",
        "127.0.0.1",
        "127.0.0.1",
    )


def test_nothing_waiting_is_an_empty_list(listen: Listen):
    """Receiving never waits."""
    assert listen().receive(limit=10) == []


def test_no_more_than_the_limit_is_read_and_order_is_kept(sender: UdpSender, listen: Listen):
    """A flood cannot keep the caller from its other work."""
    receiver = listen()
    for number in range(5):
        sender.send_one(bytes([number]), ("127.0.0.1", receiver.port))
    batches = [receiver.receive(limit=2)]
    while sum(map(len, batches)) < 5:
        assert select.select([receiver], [], [], 2)[0]
        batches.append(receiver.receive(limit=2))
    assert max(map(len, batches)) <= 2
    assert [each.payload[0] for batch in batches for each in batch] == [0, 1, 2, 3, 4]


def test_forty_five_groups_are_each_heard_once(
    sender: UdpSender, lo: Interface, listen: Listen, heard: Heard
):
    """Linux joins 20 groups a socket (net.ipv4.igmp_max_memberships, kernel ip-sysctl): 45 take three."""
    groups = [f"239.255.62.{number}" for number in range(45)]
    receiver = listen(0, groups=groups, interface=lo)
    sender.send(np.zeros((45, 4), np.uint8), np.arange(45), [(group, receiver.port) for group in groups])
    sender.send_one(b"last", ("127.0.0.1", receiver.port))
    datagrams = heard(receiver, 46)
    assert [each.destination for each in datagrams] == [*groups, "127.0.0.1"]
    assert receiver.strays == 0


@only_linux
def test_a_group_that_another_program_joined_is_a_stray(
    sender: UdpSender, lo: Interface, listen: Listen, heard: Heard
):
    """ip(7), IP_MULTICAST_ALL: Linux delivers what anybody on the machine has joined."""
    receiver = listen(0, groups=[GROUP], interface=lo, is_shared=True)
    listen(receiver.port, groups=[OTHER_GROUP], interface=lo, is_shared=True)
    sender.send_one(b"theirs", (OTHER_GROUP, receiver.port))
    sender.send_one(b"ours", (GROUP, receiver.port))
    assert [each.payload for each in heard(receiver, 1)] == [b"ours"]
    assert receiver.strays == 1


@only_linux
def test_with_groups_only_the_asked_address_is_heard(
    sender: UdpSender, lo: Interface, listen: Listen, heard: Heard
):
    """Groups need a socket bound to every address; the other addresses are still not listened to."""
    receiver = listen(0, "127.0.0.1", groups=[GROUP], interface=lo)
    sender.send_one(b"elsewhere", ("127.0.0.2", receiver.port))
    sender.send_one(b"here", ("127.0.0.1", receiver.port))
    assert [each.payload for each in heard(receiver, 1)] == [b"here"]
    assert receiver.strays == 1


def test_a_taken_port_is_refused_with_its_holders_name(listen: Listen):
    """The person learns which program to end."""
    port = listen().port
    with pytest.raises(
        NetworkError, match=rf"port {port}: the UDP port is held by process {os.getpid()} \(.+\)\. End"
    ):
        listen(port)


def test_a_port_held_for_every_address_cannot_be_taken_for_one(listen: Listen):
    """A yard on 127.0.0.1 would otherwise silently take another program's unicast packets."""
    holder = listen(0, "")
    with pytest.raises(NetworkError, match="held by"):
        listen(holder.port, "127.0.0.1")


def test_two_that_share_a_port_both_hear_a_group(
    sender: UdpSender, lo: Interface, listen: Listen, heard: Heard
):
    """What sharing is for."""
    one = listen(0, groups=[GROUP], interface=lo, is_shared=True)
    two = listen(one.port, groups=[GROUP], interface=lo, is_shared=True)
    sender.send_one(b"to both", (GROUP, one.port))
    assert [heard(each, 1)[0].payload for each in (one, two)] == [b"to both", b"to both"]


@only_linux
def test_what_the_system_drops_is_counted_without_waiting_for_another_packet(
    sender: UdpSender, listen: Listen, heard: Heard
):
    """sock_diag(7) SK_MEMINFO_DROPS: every packet sent is either received or counted."""
    receiver = listen(0, buffer_octets=4096)
    sender.send(np.zeros((100, 638), np.uint8), np.arange(100), [("127.0.0.1", receiver.port)] * 100)
    dropped = receiver.dropped
    assert dropped > 0
    assert len(heard(receiver, 100 - dropped)) == 100 - dropped


@only_linux
def test_the_buffer_is_read_back_as_granted(listen: Listen):
    """socket(7), SO_RCVBUF: the kernel doubles the value, and returns the doubled value."""
    assert listen(0, buffer_octets=65_536).buffer_octets == 131_072


def test_an_address_of_another_machine_cannot_be_listened_on(listen: Listen):
    """192.0.2.99 is for documentation, RFC 5737, and is nobody's."""
    with pytest.raises(NetworkError, match=r"192\.0\.2\.99 port 0: this machine does not have that address"):
        listen(0, "192.0.2.99")


def test_an_address_that_is_no_group_cannot_be_joined(lo: Interface, listen: Listen):
    """RFC 1112 clause 4: groups are 224.0.0.0 to 239.255.255.255."""
    for address in ("223.255.255.255", "240.0.0.0"):
        with pytest.raises(NetworkError, match=f"joining group {address} on lo: .*not a multicast group"):
            listen(0, groups=[address], interface=lo)


@only_linux
def test_an_interface_that_is_gone_cannot_be_joined_on(lo: Interface, listen: Listen):
    """The message names the group and the interface."""
    gone = Interface("jetty9", 999_999, lo.addresses, True, True, False, False, True)
    with pytest.raises(NetworkError, match=f"joining group {GROUP} on jetty9: there is no such interface"):
        listen(0, groups=[GROUP], interface=gone)


def test_a_failed_join_leaves_the_port_free(lo: Interface, listen: Listen):
    """The next attempt must not find the port held by ourselves."""
    with listen() as receiver:
        port = receiver.port
    with pytest.raises(NetworkError):
        listen(port, groups=["10.0.0.1"], interface=lo)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as plain:
        plain.bind(("127.0.0.1", port))


def test_closing_frees_the_port_and_may_be_repeated(listen: Listen):
    """Leaving `with` closes; a selector sees -1."""
    with listen() as receiver:
        port = receiver.port
    receiver.close()
    assert receiver.fileno() == -1
    assert listen(port).port == port


@only_linux
def test_ipv6_is_heard_as_ipv4_is(sender: UdpSender, listen: Listen, heard: Heard):
    """RFC 3542 clause 6, IPV6_PKTINFO: where from and where to; IPv4 keeps the same port for itself."""
    receiver = listen(0, "::1")
    other = listen(receiver.port)
    for address, ear in (("::1", receiver), ("127.0.0.1", other)):
        sender.send_one(b"hello", (address, receiver.port))
        (datagram,) = heard(ear, 1)
        assert (datagram.payload, datagram.source[0], datagram.destination) == (b"hello", address, address)


@only_linux
def test_thousands_of_ipv6_groups_are_joined_and_left(lo: Interface, listen: Listen):
    """More than one socket's option memory holds (ENOMEM). Reference: Linux's /proc/net/igmp6."""
    groups = [f"ff18::8300:{universe:x}" for universe in range(1, 4001)]

    def joined() -> int:
        return Path("/proc/net/igmp6").read_text().count("ff18000000000000000000008300")

    before = joined()
    receiver = listen(0, "::1", groups=groups, interface=lo)
    assert joined() - before == 4000
    receiver.close()
    assert joined() == before


@only_linux
def test_with_ipv6_groups_only_the_asked_address_is_heard(
    lo: Interface, sender: UdpSender, listen: Listen, heard: Heard
):
    """The socket is bound to every address, and still hears no other than was asked for."""
    receiver = listen(0, "fd00:7::20", groups=["ff18::8300:1"], interface=lo)
    sender.send_one(b"elsewhere", ("::1", receiver.port))
    assert select.select([receiver], [], [], 2)[0]
    assert receiver.receive(limit=10) == []
    assert receiver.strays == 1
    everywhere = listen(0, "", groups=["ff18::8300:1"], interface=lo)
    sender.send_one(b"here", ("::1", everywhere.port))
    assert [each.payload for each in heard(everywhere, 1)] == [b"here"]


def test_an_ipv6_address_that_is_no_group_cannot_be_joined(lo: Interface, listen: Listen):
    """RFC 4291 clause 2.7: groups are ff00::/8. Nor is one of IPv4 joined by a socket of IPv6."""
    for address in ("fe80::1", "239.255.0.1"):
        with pytest.raises(NetworkError, match=f"joining group {address} on lo: .*not an? IPv6 multicast"):
            listen(0, "::1", groups=[address], interface=lo)


@only_linux
def test_an_ipv6_port_that_is_taken_is_told(listen: Listen):
    """As with IPv4, with its holder; and an interface that is not there."""
    port = listen(0, "::1").port
    with pytest.raises(NetworkError, match=f"::1 port {port}: the UDP port is held by process {os.getpid()}"):
        listen(port, "::1")
    with pytest.raises(NetworkError, match="fe80::1%gone0 port 0: there is no such interface"):
        listen(0, "fe80::1%gone0")
