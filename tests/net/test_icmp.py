"""Echo requests and replies as octets, against RFC 1071's worked example and RFC 792's layout."""

import os
import socket
import struct
import subprocess
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.errors import FieldError, PacketError
from streamer.net.icmp import echo_request, internet_checksum, parse_echo_reply
from tests.peers.dissection import version

REPLY = bytes.fromhex("0000 c3bc 1234 0007 6e6f6465 2033 37")
"""By hand: type 0, code 0, identifier 0x1234, sequence 7, "node 37". The words 1234 0007 6e6f 6465 2033 3700
add up to 13c42, folded 3c43; the checksum is the complement of that."""


def reply(kind: int, data: bytes = b"node 37") -> bytes:
    """Turn a request around, as RFC 792 page 15 has it: another type, and the checksum anew."""
    message = bytearray(echo_request(0x1234, 7, data, is_ipv6=False))
    message[0], message[2:4] = kind, b"\0\0"
    message[2:4] = internet_checksum(bytes(message)).to_bytes(2, "big")
    return bytes(message)


def test_the_worked_example_of_rfc_1071():
    """Clause 3: 00 01 f2 03 f4 f5 f6 f7 add up to 2ddf0, which folds to ddf2; sent is the complement."""
    assert internet_checksum(bytes.fromhex("0001f203f4f5f6f7")) == 0xDDF2 ^ 0xFFFF


def test_an_odd_octet_counts_as_if_a_zero_followed():
    """RFC 1071 clause 1, and its example for an odd number of octets, [Z,0]."""
    assert internet_checksum(b"\x01\x02\x03") == internet_checksum(b"\x01\x02\x03\x00")


def test_a_request_of_ipv4_is_laid_out_as_rfc_792_has_it():
    """Page 14: type 8, code 0, checksum, identifier, sequence number, data; its checksum fits."""
    request = echo_request(0x1234, 7, b"abcd", is_ipv6=False)
    assert struct.unpack("!BBxxHH4s", request) == (8, 0, 0x1234, 7, b"abcd")
    assert internet_checksum(request) == 0


def test_a_request_of_ipv6_leaves_its_checksum_to_the_system():
    """RFC 4443 clause 4.1: type 128; RFC 3542 clause 3.1: the kernel computes it."""
    assert echo_request(1, 2, b"", is_ipv6=True) == bytes([128, 0, 0, 0, 0, 1, 0, 2])


@pytest.mark.parametrize("header", [b"", bytes([0x45]) + bytes(19), bytes([0x46]) + bytes(23)])
def test_a_reply_is_read_with_and_without_its_ip_header(header: bytes):
    """RFC 791 clause 3.1: five words, or more with options."""
    got = parse_echo_reply(header + REPLY, is_ipv6=False)
    assert (got.identifier, got.sequence, got.data) == (0x1234, 7, b"node 37")


@pytest.mark.parametrize(
    ("octets", "field"),
    [
        (b"", "echo reply"),
        (REPLY[:7], "echo reply"),
        (bytes([0x4F]) + REPLY, "echo reply"),
        (echo_request(0x1234, 7, b"", is_ipv6=False), "type"),
        (reply(3), "type"),
        (REPLY[:-1] + b"8", "checksum"),
    ],
)
def test_anything_else_is_refused_by_name(octets: bytes, field: str):
    """Too short, a request, "unreachable", an octet changed on the way."""
    with pytest.raises(PacketError) as refused:
        parse_echo_reply(octets, is_ipv6=False)
    assert refused.value.field == field


@given(st.binary(max_size=100), st.booleans())
def test_no_octets_do_anything_but_parse_or_be_refused(octets: bytes, is_ipv6: bool):  # noqa: FBT001  drawn
    """Whatever the network sends."""
    try:
        parse_echo_reply(octets, is_ipv6=is_ipv6)
    except PacketError:
        return


@given(st.binary(max_size=64))
def test_what_was_asked_comes_back(data: bytes):
    """RFC 792 page 15: the data of the request must be returned in the reply."""
    assert parse_echo_reply(reply(0, data), is_ipv6=False).data == data


@pytest.mark.parametrize(
    ("identifier", "sequence", "data"), [(-1, 0, b""), (0, 65_536, b""), (0, 0, bytes(1025))]
)
def test_what_does_not_fit_is_refused(identifier: int, sequence: int, data: bytes):
    """16 bits each."""
    with pytest.raises(FieldError):
        echo_request(identifier, sequence, data, is_ipv6=False)


@pytest.mark.tshark
def test_tshark_reads_request_and_reply_and_finds_the_checksums_right(tmp_path: Path):
    """A capture written by hand: libpcap's classic format, link type 101 (bare IPv4)."""
    if not version()[0]:
        assert "CI" not in os.environ, "CI must have tshark"
        pytest.skip("needs tshark")
    octets = struct.pack("<IHHIIII", 0xA1B2C3D4, 2, 4, 0, 0, 65535, 101)
    here = socket.inet_aton("127.0.0.1")
    for message in (echo_request(0x1234, 7, b"node 37", is_ipv6=False), REPLY):
        packet = struct.pack(">BBHHHBBH", 0x45, 0, 20 + len(message), 0, 0, 64, 1, 0) + here * 2 + message
        octets += struct.pack("<IIII", 0, 0, len(packet), len(packet)) + packet
    (tmp_path / "echo.pcap").write_bytes(octets)
    fields = ("icmp.type", "icmp.code", "icmp.checksum.status", "icmp.ident", "icmp.seq", "data.data")
    words = [word for field in fields for word in ("-e", field)]
    told = subprocess.run(
        ["tshark", "-r", str(tmp_path / "echo.pcap"), "-T", "fields", "-E", "separator=;", *words],
        capture_output=True,
        text=True,
        timeout=30,
        check=True,
    )
    data = b"node 37".hex()
    rows = [line.split(";") for line in told.stdout.splitlines()]
    is_good = "1"
    assert [(row[0], row[1], row[2]) for row in rows] == [("8", "0", is_good), ("0", "0", is_good)]
    assert all(row[3].startswith(("4660", "0x1234")) and row[4].startswith("7") for row in rows)
    assert all(row[5].replace(":", "") == data for row in rows)
