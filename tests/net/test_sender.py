import errno
import socket
import struct
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from streamer.errors import NetworkError
from streamer.net.complaints import MOST_COMPLAINTS
from streamer.net.interfaces import Interface
from streamer.net.linux import IS_LINUX
from streamer.net.receiver import Datagram, UdpReceiver
from streamer.net.sender import RecordingSender, Sender, UdpSender, error_sentence

Listen = Callable[..., UdpReceiver]
Heard = Callable[[UdpReceiver, int], list[Datagram]]

COMPLAINTS_OF_A_NETWORK = ("ENETUNREACH", "EHOSTUNREACH", "ECONNREFUSED", "ENETDOWN", "EMSGSIZE")
COMPLAINTS_OF_A_MACHINE = ("ENOBUFS", "EAGAIN", "EPERM", "EACCES", "ENODEV", "EADDRNOTAVAIL")
JETTY = ("192.168.7.50", 5568)
GROUP = "239.255.61.7"
only_linux = pytest.mark.skipif(not IS_LINUX, reason="needs Linux's IP_RECVERR")


def _packets(count: int, octets: int = 8) -> np.ndarray[tuple[int, int], np.dtype[np.uint8]]:
    return np.arange(count * octets, dtype=np.uint8).reshape(count, octets)


def test_the_chosen_rows_go_to_their_own_destinations(sender: UdpSender, listen: Listen, heard: Heard):
    """Row n goes to destination n, in the order asked, and no other row is sent."""
    receivers = [listen() for _ in range(3)]
    destinations = [("127.0.0.1", each.port) for each in receivers]
    packets = _packets(3)
    sender.send(packets, np.array([2, 0], np.intp), destinations)
    assert [each.payload for each in heard(receivers[2], 1)] == [packets[2].tobytes()]
    assert [each.payload for each in heard(receivers[0], 1)] == [packets[0].tobytes()]
    assert receivers[1].receive(limit=1) == []


def test_what_is_accepted_is_counted(sender: UdpSender, listen: Listen):
    """Packets and octets of payload, over both ways of sending."""
    to = ("127.0.0.1", listen().port)
    sender.send(_packets(3), np.arange(3), [to] * 3)
    sender.send_one(b"longer than the others", to)
    assert (sender.counters.packets, sender.counters.octets) == (4, 3 * 8 + 22)
    assert not sender.counters.errors
    assert sender.complaints == {}


def test_no_rows_send_nothing(sender: UdpSender):
    """A frame in which nothing is due is no special case for the caller."""
    sender.send(np.zeros((0, 638), np.uint8), np.zeros(0, np.intp), [])
    assert sender.counters.packets == 0


@only_linux
def test_a_refusal_is_blamed_on_the_destination_that_refused(sender: UdpSender, listen: Listen, heard: Heard):
    """ip(7), IP_RECVERR: the ICMP answer fails the next send, to another destination; that one still goes."""
    living = listen()
    with listen() as dead:
        nobody = ("127.0.0.1", dead.port)
    sender.send_one(b"to nobody", nobody)
    sender.send_one(b"to the living", ("127.0.0.1", living.port))
    assert [each.payload for each in heard(living, 1)] == [b"to the living"]
    assert sender.counters.errors == {"ECONNREFUSED": 1}
    assert f"127.0.0.1 port {nobody[1]}: the host is there" in str(sender.complaints)


@only_linux
def test_every_packet_reaches_the_living_among_the_dead(sender: UdpSender, listen: Listen, heard: Heard):
    """Ten refusing destinations beside one that listens cost it nothing."""
    living = listen()
    with listen() as dead:
        destinations = [("127.0.0.1", dead.port), ("127.0.0.1", living.port)] * 10
    for _ in range(5):
        sender.send(_packets(20), np.arange(20), destinations)
    assert len(heard(living, 50)) == 50
    assert sender.counters.packets == 100


def test_a_broadcast_address_is_refused_unless_asked_for(listen: Listen, heard: Heard):
    """socket(7), SO_BROADCAST; udp(7): EACCES without it."""
    receiver = listen(0, "")
    everyone = ("127.255.255.255", receiver.port)
    shy, loud = UdpSender(None), UdpSender(None, broadcast=True)
    shy.send_one(b"shy", everyone)
    loud.send_one(b"loud", everyone)
    assert shy.counters.errors == {"EACCES": 1}
    assert [(each.payload, each.destination) for each in heard(receiver, 1)] == [(b"loud", everyone[0])]
    shy.close()
    loud.close()


def test_a_packet_too_long_for_udp_is_counted_and_the_next_one_goes(
    sender: UdpSender, listen: Listen, heard: Heard
):
    """RFC 768 and RFC 791: 65,535 octets less headers of 20 and 8 leave 65,507."""
    receiver = listen()
    to = ("127.0.0.1", receiver.port)
    sender.send_one(bytes(65_508), to)
    sender.send_one(bytes(65_507), to)
    assert [len(each.payload) for each in heard(receiver, 1)] == [65_507]
    assert sender.counters.errors == {"EMSGSIZE": 1}


@pytest.mark.parametrize(("asked", "ttl"), [({}, 1), ({"ttl": 4}, 4)])
def test_a_group_is_sent_with_the_time_to_live_asked_for(
    lo: Interface, asked: dict[str, Any], ttl: int, listen: Listen
):
    """RFC 1112 clause 6.1: 1 unless asked otherwise. Heard by a plain socket with IP_RECVTTL, ip(7)."""
    member = listen(0, groups=[GROUP], interface=lo, is_shared=True)
    sender = UdpSender(lo, **asked)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as plain:
        plain.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        plain.setsockopt(socket.IPPROTO_IP, 12, 1)  # IP_RECVTTL
        plain.settimeout(2)
        plain.bind((GROUP, member.port))
        sender.send_one(b"to the group", (GROUP, member.port))
        payload, ancillary, _, _ = plain.recvmsg(100, 100)
    sender.close()
    assert payload == b"to the group"
    assert [struct.unpack("=i", data)[0] for _, kind, data in ancillary if kind == socket.IP_TTL] == [ttl]


def test_a_complaint_is_made_once_and_counted_every_time():
    """A stream of 40 frames a second must not fill the screen."""
    sender = RecordingSender()
    sender.failures = {JETTY: errno.ENETUNREACH}
    for _ in range(40):
        sender.send_one(b"x", JETTY)
    assert sender.complaints == {error_sentence("ENETUNREACH", JETTY): 40}
    sender.send_one(b"x", JETTY)
    assert sender.complaints == {error_sentence("ENETUNREACH", JETTY): 41}
    assert sender.counters.errors == {"ENETUNREACH": 41}


def test_a_fault_of_this_machine_is_complained_of_once_for_all_destinations():
    """A pulled cable is one fault; ten silent controllers are ten."""
    sender = RecordingSender()
    destinations = [(f"192.168.7.{host}", 5568) for host in range(10)]
    for number, complaints in ((errno.ENETUNREACH, 1), (errno.EHOSTUNREACH, 1 + 10)):
        sender.failures = dict.fromkeys(destinations, number)
        sender.send(_packets(10), np.arange(10), destinations)
        assert len(sender.complaints) == complaints


def test_complaints_are_bounded():
    """A plan of a thousand dead addresses neither fills the memory nor the screen."""
    sender = RecordingSender()
    destinations = [(f"10.0.{host // 250}.{host % 250}", 5568) for host in range(1000)]
    sender.failures = dict.fromkeys(destinations, errno.EHOSTUNREACH)
    sender.send(np.zeros((1000, 4), np.uint8), np.arange(1000), destinations)
    assert len(sender.complaints) == MOST_COMPLAINTS
    assert sender.counters.errors == {"EHOSTUNREACH": 1000}


@pytest.mark.parametrize(
    "name",
    [*COMPLAINTS_OF_A_NETWORK, *COMPLAINTS_OF_A_MACHINE],
)
def test_a_usual_refusal_says_where_what_and_what_to_do(name: str):
    """Two sentences for a person, without the errno's name."""
    sentence = error_sentence(name, JETTY)
    assert sentence.startswith("192.168.7.50 port 5568: ")
    assert len(sentence.split(". ")) == 2
    assert name not in sentence


def test_an_unusual_refusal_gives_the_errnos_name():
    """It is all there is to look up."""
    assert "(EPROTO)" in error_sentence("EPROTO", JETTY)


@only_linux
def test_an_interface_that_is_gone_cannot_be_opened(lo: Interface):
    """An index that the system does not have is refused at once, in words."""
    gone = Interface("jetty9", 999_999, lo.addresses, True, True, False, False, True)
    with pytest.raises(NetworkError, match="interface 'jetty9': cannot open a socket"):
        UdpSender(gone)


def test_closing_twice_is_harmless(lo: Interface):
    """An engine that ends twice, by a signal and by itself, must end well."""
    sender = UdpSender(lo)
    sender.close()
    sender.close()


def test_a_recording_sender_keeps_what_it_is_given_and_fails_as_told():
    """It stands for the network in tests: the same counters, no socket."""
    recorder = RecordingSender()
    sender: Sender = recorder
    loft = ("192.168.7.51", 5568)
    recorder.failures[loft] = errno.EPERM
    sender.send(_packets(2, 2), np.array([0, 1]), [JETTY, loft])
    recorder.failures.clear()
    sender.send_one(b"back", loft)
    assert recorder.sent == [(b"\x00\x01", JETTY), (b"back", loft)]
    assert (sender.counters.packets, sender.counters.octets) == (2, 6)
    assert sender.counters.errors == {"EPERM": 1}
