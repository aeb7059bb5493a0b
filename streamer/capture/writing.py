"""Writes captures in the pcapng format, block by whole block.

The library lays out the blocks, slowly: 100 us each. So it lays out one for each length of packet, and the
rest are copies of that one with their own moment and octets: draft-ietf-opsawg-pcapng clause 4.3.
"""

import io
import os
import struct
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from pcapng import FileWriter, blocks

from streamer.capture.datagram import Datagram
from streamer.capture.ip import ip_packet
from streamer.capture.links import RAW
from streamer.closing import Closes
from streamer.errors import CaptureError

NANOSECONDS = b"\x09"
"""if_tsresol: a stamp counts in 10 ** -9 s."""
MOMENT_OCTET, PACKET_OCTET = 12, 28
"""In an Enhanced Packet Block: the upper half of the stamp, then the lower; and the packet itself."""
MOMENT = struct.Struct("<II")
LOWER_HALF = 0xFFFFFFFF
HALF_BITS = 32
TEMPLATES_MAX = 2_048
"""More lengths than a datagram of either protocol can have."""


class CaptureWriter(Closes):
    """A new file of whole packets. Use it in `with`, or close it. Raises CaptureError.

    A file that is there already is left alone. What cannot be written whole is not begun: after any failure
    the file ends with the last whole packet.
    """

    def __init__(self, path: Path, application: str, interface: str = "") -> None:
        self.path = path
        self.packets = 0
        self.octets = 0
        """Of the file."""
        self._section = blocks.SectionHeader(endianness="<", options={"shb_userappl": application})
        options: dict[str, object] = {"if_tsresol": NANOSECONDS}
        if interface:
            options["if_name"] = interface
        self._section.new_member(blocks.InterfaceDescription, link_type=RAW, options=options)
        self._templates: dict[int, bytes] = {}
        head = io.BytesIO()
        self._library = FileWriter(head, self._section)
        try:
            self._file = os.open(
                path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o644
            )
        except FileExistsError as error:
            raise CaptureError("there is such a file already", path, "Choose another name") from error
        except OSError as error:
            raise CaptureError(_reason(error), path, "Choose a place that can be written to") from error
        self._write(head.getvalue())

    def write(self, datagrams: Iterable[Datagram]) -> None:
        """Append datagrams in the order given."""
        new = [self._block(each) for each in datagrams]
        if new:
            self._write(b"".join(new))
            self.packets += len(new)

    def _block(self, datagram: Datagram) -> bytes:
        packet = ip_packet(datagram)
        block = bytearray(self._template(len(packet)))
        MOMENT.pack_into(block, MOMENT_OCTET, datagram.stamp_ns >> HALF_BITS, datagram.stamp_ns & LOWER_HALF)
        block[PACKET_OCTET : PACKET_OCTET + len(packet)] = packet
        return bytes(block)

    def _template(self, octets: int) -> bytes:
        known = self._templates.get(octets)
        if known is None:
            block = self._section.new_member(blocks.EnhancedPacket, interface_id=0, packet_data=bytes(octets))
            known = self._laid_out(block)
            if len(self._templates) < TEMPLATES_MAX:
                self._templates[octets] = known
        return known

    def _laid_out(self, block: blocks.Block) -> bytes:
        self._library.stream = io.BytesIO()
        self._library.write_block(block)
        octets: bytes = self._library.stream.getvalue()
        return octets

    def _write(self, octets: bytes) -> None:
        try:
            written, reason = os.write(self._file, octets), "there is no room for more"
        except OSError as error:
            written, reason = 0, _reason(error)
        if written < len(octets):
            with suppress(OSError):  # then the file ends within a packet, which its readers bear
                os.ftruncate(self._file, self.octets)
            what = f"{reason}; the {self.packets} packets before are kept"
            raise CaptureError(what, self.path, "Make room, and record to another file")
        self.octets += len(octets)

    def close(self, dropped: int | None = None) -> None:
        """Close the file, and take it away if nothing is in it; calling it again does nothing.

        `dropped` datagrams are noted in it as lost for want of time.
        """
        if self._file < 0:
            return
        if dropped is not None:
            options = {"isb_ifrecv": self.packets, "isb_ifdrop": dropped}
            self._write(
                self._laid_out(
                    self._section.new_member(blocks.InterfaceStatistics, interface_id=0, options=options)
                )
            )
        os.close(self._file)
        self._file = -1
        if not self.packets:
            self.path.unlink(missing_ok=True)


def _reason(error: OSError) -> str:
    return f"it cannot be written ({error.strerror or error})"
