"""Capture files against programs that we did not write: tshark and its kin read ours, and write some."""

import io
import os
import shutil
import socket
import subprocess
from contextlib import suppress
from pathlib import Path
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.capture.datagram import Datagram
from streamer.capture.reading import Capture, read_capture
from streamer.capture.writing import CaptureWriter
from streamer.errors import CaptureError
from streamer.wire.e131 import DataPacket

CID = UUID("6d0f5ac7-3d6b-4d0b-9f43-0c1f2fa7b1de")
LEVELS = DataPacket(CID, "Lakeside", 7, bytes(range(256)) * 2).encode()
BEGAN_NS = 1_764_433_000_123_456_789
IPV4 = Datagram(BEGAN_NS, ("192.0.2.1", 50_000), ("239.255.0.7", 5568), LEVELS)
IPV6 = Datagram(BEGAN_NS + 25_000_001, ("2001:db8::1", 5568), ("ff18::8300:7", 5568), LEVELS[:-1])
"""One octet less: an odd number, which a checksum counts as if a zero followed."""
TIMEOUT_S = 30

needs_tshark = pytest.mark.skipif(shutil.which("tshark") is None, reason="needs tshark")


def written(path: Path, *datagrams: Datagram) -> Path:
    """Return a new capture of these."""
    with CaptureWriter(path, "Ropewalk", "lake0") as writer:
        writer.write(datagrams)
        writer.close(dropped=3)
    return path


def run(*command: str | Path, given: str = "") -> str:
    """Return what a command prints."""
    told = subprocess.run(command, input=given, capture_output=True, text=True, timeout=TIMEOUT_S, check=True)
    return told.stdout


@needs_tshark
def test_tshark_reads_what_we_write_to_the_nanosecond_and_finds_every_checksum_good(tmp_path: Path):
    """Source: tshark's own dissectors, with both checksums asked for; status 1 is "good"."""
    path = written(tmp_path / "ours.pcapng", IPV4, IPV6)
    fields = (
        "frame.time_epoch", "ip.src", "ip.dst", "ipv6.src", "ipv6.dst", "udp.srcport", "udp.dstport",
        "ip.checksum.status", "udp.checksum.status", "udp.payload", "_ws.expert",
    )  # fmt: skip
    options = ("-o", "ip.check_checksum:TRUE", "-o", "udp.check_checksum:TRUE", "-E", "separator=;")
    told = run("tshark", "-n", "-r", path, *options, "-T", "fields", *(w for f in fields for w in ("-e", f)))
    first, second = (line.split(";") for line in told.splitlines())
    assert first == [
        "1764433000.123456789", "192.0.2.1", "239.255.0.7", "", "", "50000", "5568", "1", "1",
        LEVELS.hex(), "",
    ]  # fmt: skip
    assert second == [
        "1764433000.148456790", "", "", "2001:db8::1", "ff18::8300:7", "5568", "5568", "", "1",
        LEVELS[:-1].hex(), "",
    ]  # fmt: skip


@needs_tshark
def test_the_file_says_who_wrote_it_where_and_how_it_counts_time(tmp_path: Path):
    """Source: capinfos, which reads the section's and the interface's blocks."""
    told = run("capinfos", written(tmp_path / "ours.pcapng", IPV4))
    for line in ("pcapng", "Raw IP", "nanoseconds (9)", "Ropewalk", "Name = lake0"):
        assert line in told


@needs_tshark
@pytest.mark.parametrize("encapsulation", ["1", "101"])
def test_what_text2pcap_writes_is_read(tmp_path: Path, encapsulation: str):
    """Source: text2pcap, with Ethernet's header (1) and without one (101)."""
    path = tmp_path / "theirs.pcapng"
    lines = "".join(f"{at:06x} {LEVELS[at : at + 16].hex(' ')}\n" for at in range(0, len(LEVELS), 16))
    addresses = ("-4", "192.0.2.9,239.255.0.7", "-u", "5000,5568")
    run("text2pcap", "-q", "-n", "-l", encapsulation, *addresses, "-", path, given=lines)
    (datagram,) = read_capture(path)
    assert (datagram.source, datagram.destination) == (("192.0.2.9", 5000), ("239.255.0.7", 5568))
    assert datagram.octets == LEVELS


@needs_tshark
def test_captures_of_two_interfaces_keep_each_one_s_link_type_and_clock(tmp_path: Path):
    """Source: mergecap, which puts ours, in nanoseconds, and text2pcap's, in microseconds, into one file."""
    theirs, merged = tmp_path / "theirs.pcapng", tmp_path / "merged.pcapng"
    lines = f"10:00:00.5\n000000 {LEVELS[:200].hex(' ')}\n"
    moment = ("-t", "%H:%M:%S.%f")
    run(
        "text2pcap", "-q", "-n", *moment, "-4", "192.0.2.9,10.0.0.1", "-u", "1,6454", "-", theirs, given=lines
    )
    run("mergecap", "-w", merged, written(tmp_path / "ours.pcapng", IPV4), theirs)
    found = {each.destination[1]: each for each in read_capture(merged)}
    assert found[5568] == IPV4
    assert found[6454].octets == LEVELS[:200]
    assert found[6454].stamp_ns % 1_000_000_000 == 500_000_000


IPV4_ADDRESSES = st.ip_addresses(v=4).map(str)
IPV6_ADDRESSES = st.ip_addresses(v=6).map(lambda each: socket.inet_ntop(socket.AF_INET6, each.packed))
PORTS = st.integers(0, 65_535)
ENDS = st.one_of(
    *(st.tuples(st.tuples(each, PORTS), st.tuples(each, PORTS)) for each in (IPV4_ADDRESSES, IPV6_ADDRESSES))
)
DATAGRAMS = st.tuples(st.integers(0, 2**62), ENDS, st.binary(max_size=1200)).map(
    lambda drawn: Datagram(drawn[0], drawn[1][0], drawn[1][1], drawn[2])
)


@given(st.lists(DATAGRAMS, min_size=1, max_size=3))
def test_what_is_written_is_read_back(tmp_path_factory: pytest.TempPathFactory, datagrams: list[Datagram]):
    """Addresses, ports, moment and octets are as they were."""
    path = tmp_path_factory.mktemp("capture") / "one.pcapng"
    assert list(read_capture(written(path, *datagrams))) == datagrams


def good_octets(folder: Path) -> bytes:
    """Return a good file."""
    return written(folder / "good.pcapng", IPV4, IPV6, IPV4).read_bytes()


def block_ends(octets: bytes) -> list[int]:
    """Return where blocks end: each says its length after its type, draft-ietf-opsawg-pcapng clause 3.1."""
    ends = [0]
    while ends[-1] < len(octets):
        ends.append(ends[-1] + int.from_bytes(octets[ends[-1] + 4 : ends[-1] + 8], "little"))
    return ends[1:]


def test_a_file_cut_short_anywhere_gives_what_is_whole_and_says_so(tmp_path: Path):
    """As after a loss of power: never a traceback, and never a packet that was not there."""
    octets = good_octets(tmp_path)
    whole = [IPV4, IPV6, IPV4]
    boundaries = block_ends(octets)
    for end in range(boundaries[0], len(octets), 7):
        capture = Capture(io.BytesIO(octets[:end]), tmp_path / "cut.pcapng")
        found = list(capture)
        assert found == whole[: len(found)]
        assert capture.is_cut_short == (end not in boundaries)


@given(st.data())
def test_a_damaged_file_gives_a_plain_error_or_packets_and_nothing_else(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
):
    """Lengths, types, options and stamps may say anything."""
    folder = tmp_path_factory.mktemp("capture")
    octets = bytearray(good_octets(folder))
    for _ in range(data.draw(st.integers(1, 6))):
        octets[data.draw(st.integers(0, len(octets) - 1))] = data.draw(st.integers(0, 255))
    with suppress(CaptureError):
        for datagram in Capture(io.BytesIO(bytes(octets)), folder / "damaged.pcapng"):
            assert datagram.stamp_ns >= 0


@given(st.binary(max_size=300))
def test_any_other_file_is_refused_in_words(octets: bytes):
    """It may be a picture."""
    capture = Capture(io.BytesIO(octets), Path("picture.png"))
    if len(octets) < 4:
        assert not list(capture)
        return
    with pytest.raises(CaptureError, match=r"picture\.png: it is no capture of the pcapng format"):
        list(capture)


def test_a_file_that_is_there_is_left_alone(tmp_path: Path):
    """Nothing is written over."""
    path = tmp_path / "evening.pcapng"
    path.write_text("mine")
    with pytest.raises(CaptureError, match="there is such a file already"):
        CaptureWriter(path, "Ropewalk")
    assert path.read_text() == "mine"


def test_a_capture_of_nothing_is_no_file(tmp_path: Path):
    """So that the next try may have the name."""
    with CaptureWriter(tmp_path / "evening.pcapng", "Ropewalk") as writer:
        writer.close(dropped=0)
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_leaves_whole_packets(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Source: write(2), which writes less than it was given when the disk is full."""
    path = tmp_path / "evening.pcapng"
    writer = CaptureWriter(path, "Ropewalk")
    writer.write([IPV4, IPV6])
    real = os.write
    monkeypatch.setattr(os, "write", lambda file, octets: real(file, octets[: len(octets) // 2]))
    with pytest.raises(CaptureError, match="the 2 packets before are kept"):
        writer.write([IPV4])
    monkeypatch.undo()
    writer.close()
    assert list(read_capture(path)) == [IPV4, IPV6]
