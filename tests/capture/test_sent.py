"""What a sender hands on is kept, and a full disk does not stop it."""

import os
from pathlib import Path

import numpy as np

from streamer.capture.datagram import Datagram
from streamer.capture.reading import read_capture
from streamer.capture.sent import KeptSender
from streamer.capture.writing import CaptureWriter
from streamer.net.destinations import ANYWHERE
from streamer.net.sender import RecordingSender

TO = [("192.0.2.20", 5568), ("239.255.0.7", 5568), ("fe80::20%eth0", 5568)]
NOW_NS = 1_764_433_000_123_456_789


def kept(path: Path) -> tuple[KeptSender, RecordingSender]:
    """Return a sender that keeps, and the one behind it."""
    behind = RecordingSender()
    addresses = {"192.0.2.20": "192.0.2.1", "fe80::20%eth0": "fe80::1"}
    return KeptSender(behind, CaptureWriter(path, "Ropewalk"), lambda: NOW_NS, addresses.get), behind


def test_rows_and_single_packets_are_sent_and_kept_alike(tmp_path: Path):
    """In order; from the address that leads there, 0.0.0.0 where none does; without the zone."""
    path = tmp_path / "sent.pcapng"
    sender, behind = kept(path)
    packets = np.arange(12, dtype=np.uint8).reshape(3, 4)
    sender.send(packets, np.array([2, 0]), TO)
    sender.send_one(b"node 37", TO[1])
    sender.close()
    assert [(octets, to) for octets, to in behind.sent] == [
        (bytes([8, 9, 10, 11]), TO[2]), (bytes([0, 1, 2, 3]), TO[0]), (b"node 37", TO[1]),
    ]  # fmt: skip
    assert list(read_capture(path)) == [
        Datagram(NOW_NS, ("fe80::1", 0), ("fe80::20", 5568), bytes([8, 9, 10, 11])),
        Datagram(NOW_NS, ("192.0.2.1", 0), TO[0], bytes([0, 1, 2, 3])),
        Datagram(NOW_NS, (ANYWHERE, 0), TO[1], b"node 37"),
    ]
    assert behind.is_closed


def test_when_it_cannot_be_kept_any_more_that_is_said_and_sending_goes_on(tmp_path: Path):
    """The lights matter more. /dev/full refuses every octet: full(4)."""
    sender, behind = kept(tmp_path / "sent.pcapng")
    assert sender._writer
    with Path("/dev/full").open("wb") as full:
        os.dup2(full.fileno(), sender._writer._file)
    sender.send_one(b"node 37", TO[0])
    sender.send_one(b"node 38", TO[0])
    assert [octets for octets, _ in behind.sent] == [b"node 37", b"node 38"]
    (complaint,) = sender.complaints
    assert "it cannot be written (No space left on device); the 0 packets before are kept" in complaint
    sender.close()
