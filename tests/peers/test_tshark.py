"""tshark, an independent reader of both protocols, sees in our packets what the tables say.

The fields are looked up by place, so that versions of tshark which name them otherwise agree too.
"""

import os
from pathlib import Path
from typing import Any

import pytest

from tests.peers import dissection
from tests.wire.golden import ART_POLL, DISCOVERY, FULL_DATA, FULL_DMX, G1, G2, G3, G4, Golden

pytestmark = pytest.mark.tshark

Shown = dict[tuple[int, int], Any]
"""Octet and size of a field -> the number or text that tshark shows."""

EXTENDED_SINCE = (4, 2)
"""Older versions of tshark do not read E1.31's synchronization and discovery packets."""
CID = "3f1c9a52-6b7d-4e21-9c04-d5a18e70b36f"

ROOT: Shown = {(0, 2): 16, (2, 2): 0, (4, 12): "ASC-E1.17", (22, 16): CID}  # Table 5-4
SHOWN: dict[str, tuple[Golden, int, Shown]] = {
    "E1.31 data": (  # Tables 5-4, 6-5, 7-8
        G1,
        5568,
        ROOT
        | {
            (18, 4): 4,
            (40, 4): 2,
            (44, 64): "Nodes Süd 7",
            (108, 1): 117,
            (109, 2): 7001,
            (111, 1): 201,
            (112, 1): 32,
            (113, 2): 300,
            (117, 1): 2,
            (119, 2): 0,
            (121, 2): 1,
            (123, 2): 13,
            (125, 1): 0,
            (126, 12): "001-020:  1 1F 23 3D 41 57 6B 75 89 9D | AB FD",
        },
    ),
    "E1.31 data, 512 slots": (
        FULL_DATA,
        5568,
        ROOT
        | {
            (18, 4): 4,
            (44, 64): "Boathouse",
            (108, 1): 200,
            (109, 2): 0,
            (111, 1): 255,
            (112, 1): 0xC0,
            (113, 2): 63999,
            (123, 2): 513,
            (125, 1): 0xDD,
        },
    ),
    "ArtDmx": (
        G3,
        6454,
        {(0, 8): "Art-Net", (8, 2): 0x5000, (10, 2): 14, (12, 1): 129, (13, 1): 2, (14, 2): 1443, (16, 2): 6},
    ),
    "ArtDmx, 512 slots": (
        FULL_DMX,
        6454,
        {(8, 2): 0x5000, (12, 1): 0, (13, 1): 0, (14, 2): 32767, (16, 2): 512},
    ),
    "ArtPoll": (
        ART_POLL,
        6454,
        {(8, 2): 0x2000, (10, 2): 14, (12, 1): 0x26, (13, 1): 0x40, (14, 2): 1443, (16, 2): 16},
    ),
    "ArtPollReply": (
        G4,
        6454,
        {
            (8, 2): 0x2100,
            (10, 4): "10.11.12.13",
            (14, 2): 6454,
            (16, 2): 0x0203,
            (18, 1): 5,
            (19, 1): 10,
            (20, 2): 0x00FF,
            (22, 1): 7,
            (23, 1): 0xD2,
            (24, 2): 0x7FF0,
            (26, 18): "strand-node",
            (44, 64): "Strand node, bench unit 4",
            (108, 64): "#0001 [0042] Power-on tests passed",
            (172, 2): 1,
            (174, 1): 0x80,
            (178, 1): 0x08,
            (182, 1): 0x83,
            (186, 1): 1,
            (190, 1): 3,
            (194, 1): 117,
            (195, 1): 0x11,
            (196, 1): 0x22,
            (200, 1): 0,
            (201, 6): "02:1b:3d:5f:71:93",
            (207, 4): "10.11.12.13",
            (211, 1): 1,
            (212, 1): 0x1D,
        },
    ),
}
LENGTHS = {16: 122, 38: 100, 115: 23}
"""E1.31 data of 138 octets: the length in the word at each octet (5.4, 6.1, 7.1)."""
EXTENDED: dict[str, tuple[Golden, Shown]] = {
    "synchronization": (G2, ROOT | {(18, 4): 8, (40, 4): 1, (44, 1): 77, (45, 2): 7001}),  # Table 6-6
    "universe discovery": (  # Tables 6-7 and 8-9
        DISCOVERY,
        ROOT | {(18, 4): 8, (40, 4): 2, (44, 64): "Boathouse", (114, 4): 1, (118, 1): 1, (119, 1): 2},
    ),
}


def skip(reason: str) -> None:
    """Skip a test, but fail it where everything must be there."""
    if "CI" in os.environ:
        pytest.fail(reason)
    pytest.skip(reason)


@pytest.fixture(scope="module")
def version() -> tuple[int, int]:
    """Return tshark's version; the tests here need one."""
    found = dissection.version()
    if found == (0, 0):
        skip("tshark is not installed")
    return found


def as_value(shown: str) -> int | str:
    """Read what tshark shows: numbers come in decimal or hex, by version."""
    try:
        return int(shown, 0)
    except ValueError:
        return shown.strip()


def missing(fields: list[dissection.Field], wanted: Shown) -> Shown:
    """Return what tshark does not show at its place."""
    seen = {(field.octet, field.size, as_value(field.shown)) for field in fields}
    return {place: value for place, value in wanted.items() if (*place, value) not in seen}


def assert_all_shown(capture: Path) -> None:
    """Compare every field of every packet in SHOWN, in that order."""
    packets = dissection.dissect(capture)
    assert len(packets) == len(SHOWN)
    for (name, (_, _, wanted)), fields in zip(SHOWN.items(), packets, strict=True):
        assert missing(fields, wanted) == {}, name
    lengths = [field for field in packets[0] if field.name == "acn.pdu.length"]
    assert {field.octet: int(field.shown) for field in lengths} == LENGTHS
    reply = {field.name: field.shown for field in packets[-1]}
    assert int(reply["artnet.poll_reply.swin_1_universe"]) == 1441  # 5:10:1
    assert int(reply["artnet.poll_reply.swout_1_universe"]) == 1443  # 5:10:3


@pytest.mark.usefixtures("version")
def test_tshark_reads_every_field_in_a_capture_file(tmp_path: Path):
    """From a capture file written by hand, without any sending."""
    capture = tmp_path / "by_hand.pcap"
    dissection.write_capture(capture, [(port, golden.packet.encode()) for golden, port, _ in SHOWN.values()])
    assert_all_shown(capture)


@pytest.mark.rig
@pytest.mark.usefixtures("version")
def test_tshark_reads_every_field_off_the_loopback_interface(tmp_path: Path):
    """Sent to 127.0.0.1 for real, captured there, and read."""
    capture = tmp_path / "live.pcap"
    datagrams = [(port, golden.packet.encode()) for golden, port, _ in SHOWN.values()]
    try:
        dissection.capture_loopback(capture, datagrams)
    except PermissionError as error:
        skip(f"capturing on the loopback interface is not allowed here: {error}")
    assert_all_shown(capture)


@pytest.mark.parametrize("name", list(EXTENDED))
def test_tshark_reads_the_extended_packets(version: tuple[int, int], tmp_path: Path, name: str):
    """Synchronization and universe discovery, with a tshark that knows them."""
    if version < EXTENDED_SINCE:
        pytest.skip(f"tshark {version[0]}.{version[1]} does not read E1.31 {name}; 4.2 and later do")
    golden, wanted = EXTENDED[name]
    capture = tmp_path / "extended.pcap"
    dissection.write_capture(capture, [(5568, golden.packet.encode())])
    assert missing(dissection.dissect(capture)[0], wanted) == {}


@pytest.mark.usefixtures("version")
def test_a_wrong_packet_is_not_taken_for_a_right_one(tmp_path: Path):
    """The comparison itself can fail: one priority for another is noticed, at its place."""
    golden, port, wanted = SHOWN["E1.31 data"]
    wrong = golden.octets[:108] + b"\x76" + golden.octets[109:]
    capture = tmp_path / "wrong.pcap"
    dissection.write_capture(capture, [(port, wrong)])
    assert missing(dissection.dissect(capture)[0], wanted) == {(108, 1): 117}
