"""Reads captures in the pcapng format, whoever wrote them. Nothing in a file is trusted."""

import struct
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from pcapng import FileScanner, blocks
from pcapng.exceptions import PcapngException, TruncatedFile

from streamer.capture.datagram import Datagram
from streamer.capture.ip import read_ip_packet
from streamer.capture.links import LINKS
from streamer.errors import CaptureError, PacketError

BLOCK_OCTETS_MAX = 1024 * 1024
"""A packet has 65,535 at most, names of hosts seldom more."""
NS_PER_S = 1_000_000_000
INTERFACES_MAX = 1_000
WRONG = (PcapngException, ValueError, KeyError, IndexError, AssertionError, struct.error)
"""All that the library raises for a file that is no capture; found with random files."""
STAMP_NS_MAX = 2**63


class Capture:
    """Iterate over it once: whole datagrams of UDP, in the file's order. Raises CaptureError on the way."""

    def __init__(self, stream: BinaryIO, path: Path) -> None:
        self._stream = stream
        self._scanner = FileScanner(_Bounded(stream))
        self._path = path
        self._interfaces = 0
        self.passed_over = 0
        """Packets that hold no whole datagram of UDP."""
        self.is_cut_short = False
        """Whether the file ends within a packet, as after a loss of power."""

    def __iter__(self) -> Iterator[Datagram]:
        """Yield the datagrams."""
        blocks_read = end = 0
        try:
            for block in self._scanner:
                blocks_read, end = blocks_read + 1, self._stream.tell()
                self._interfaces += isinstance(block, blocks.InterfaceDescription)
                if self._interfaces > INTERFACES_MAX:
                    raise ValueError(f"it has more than {INTERFACES_MAX} interfaces")
                if isinstance(block, blocks.EnhancedPacket | blocks.ObsoletePacket):
                    datagram = _datagram(block)
                    if datagram is None:
                        self.passed_over += 1
                    else:
                        yield datagram
                else:
                    self.passed_over += isinstance(block, blocks.SimplePacket)
            # Where it breaks off between two fields the library takes that for the end.
            self.is_cut_short = self._stream.tell() > end
        except TruncatedFile:
            self.is_cut_short = True
        except WRONG as error:
            what = (
                f"it is no capture of the pcapng format, or a damaged one (block {blocks_read + 1}: {error})"
            )
            raise CaptureError(what, self._path, "Give one that tshark opens too") from error
        except OSError as error:
            raise CaptureError(f"it cannot be read ({error.strerror})", self._path, "Look at it") from error


class _Bounded:
    """Reads from a file no more at once than a block may have: its length is whatever the file says."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream

    def read(self, octets: int) -> bytes:
        if not 0 <= octets <= BLOCK_OCTETS_MAX:
            raise ValueError(f"a block of {octets} octets cannot be")
        return self._stream.read(octets)

    def tell(self) -> int:
        return self._stream.tell()


def _datagram(block: blocks.EnhancedPacket | blocks.ObsoletePacket) -> Datagram | None:
    """Return the datagram in a block, None where it holds none that is whole."""
    into = LINKS.get(block.interface.link_type)
    packet = into(block.packet_data) if into else None
    if packet is None:
        return None
    try:
        return read_ip_packet(packet, _stamp_ns(block))
    except PacketError:
        return None  # counted by the caller as passed over


def _stamp_ns(block: blocks.EnhancedPacket | blocks.ObsoletePacket) -> int:
    per_s: int = round(1 / block.timestamp_resolution)
    offset_s: int = block.interface.options.get("if_tsoffset", 0)
    stamp_ns: int = (
        block.timestamp_high << 32 | block.timestamp_low
    ) * NS_PER_S // per_s + offset_s * NS_PER_S
    if not 0 <= stamp_ns < STAMP_NS_MAX:
        raise ValueError("a packet has no moment that can be")
    return stamp_ns


def read_capture(path: Path) -> Iterator[Datagram]:
    """Yield what a file holds; CaptureError where it cannot be opened or is no capture."""
    with open_capture(path) as stream:
        yield from Capture(stream, path)


def open_capture(path: Path) -> BinaryIO:
    """Open a file to read a capture from; CaptureError in words."""
    try:
        return path.open("rb")
    except FileNotFoundError as error:
        instead = "Check the name. To keep what is heard in a new one: ropewalk record"
        raise CaptureError("there is no such file", path, instead) from error
    except OSError as error:
        raise CaptureError(
            f"it cannot be opened ({error.strerror})", path, "Give a file of pcapng"
        ) from error
