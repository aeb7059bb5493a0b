"""Art-Net 4's ArtPollReply: a device says who it is and which Port-Addresses it has.

Import it from `streamer.wire.artnet`. Received octets are kept as they came, also where the
specification allows fewer values, so that a faulty device can be seen; only what is sent is checked.
"""

import re
from dataclasses import dataclass, fields
from enum import IntFlag
from ipaddress import IPv4Address
from struct import Struct
from typing import Any

from streamer.wire import art_header
from streamer.wire.fields import (
    OCTET_MAX,
    WORD_MAX,
    Datagram,
    check_range,
    expect_size,
    read_text,
    text_octets,
)
from streamer.wire.port_address import NET_MAX, SUB_NET_MAX, UNIVERSE_MAX, join

OEM_UNKNOWN = 0x00FF
PORTS_PER_REPLY = 4
REPLY_OCTETS = 239
REPLY_LEAST_OCTETS = 198
"""Fields that an older device leaves out count as zero."""
SHORT_NAME_CHARACTERS = 17
LONG_NAME_CHARACTERS = 63
"""ASCII; a zero follows. NodeReport has as many as the long name."""
MAC_OCTETS = 6
UID_OCTETS = 6
REPORT_COUNTER_MAX = 9999
"""NodeReport counts with four digits."""
NO_ADDRESS = IPv4Address(0)
NO_PORTS = bytes(PORTS_PER_REPLY)


class PortTypes(IntFlag):
    """The two high bits of each of the four PortTypes octets."""

    OUTPUT = 0x80
    """Art-Net comes out of this port as the protocol in bits 5 to 0; 0 there is DMX512."""
    INPUT = 0x40


@dataclass(frozen=True, slots=True)
class ArtPollReply:
    """The answer, its fields in wire order; each four-octet field has one octet for each port."""

    ip: IPv4Address = NO_ADDRESS
    port: int = art_header.PORT
    version: int = 0
    """VersInfo, the firmware's number."""
    net_switch: int = 0
    """Bits 14 to 8 of every Port-Address of this reply."""
    sub_switch: int = 0
    """Bits 7 to 4."""
    oem: int = OEM_UNKNOWN
    ubea_version: int = 0
    status1: int = 0
    esta: int = 0
    short_name: str = ""
    """ASCII, at most 17."""
    long_name: str = ""
    """ASCII, at most 63."""
    node_report: str = ""
    """ASCII, at most 63; see NodeReport."""
    num_ports: int = 0
    port_types: bytes = NO_PORTS
    """See PortTypes."""
    good_input: bytes = NO_PORTS
    good_output_a: bytes = NO_PORTS
    sw_in: bytes = NO_PORTS
    """Bits 3 to 0 of each input's Port-Address."""
    sw_out: bytes = NO_PORTS
    """Bits 3 to 0 of each output's Port-Address."""
    acn_priority: int = 0
    sw_macro: int = 0
    sw_remote: int = 0
    style: int = 0
    mac: bytes = bytes(MAC_OCTETS)
    bind_ip: IPv4Address = NO_ADDRESS
    bind_index: int = 0
    """0 or 1 is the root device; further replies of one device count on from 2."""
    status2: int = 0
    good_output_b: bytes = NO_PORTS
    status3: int = 0
    default_resp_uid: bytes = bytes(UID_OCTETS)
    user: int = 0
    refresh_rate: int = 0
    """The most ArtDmx a second that it takes; 0 to 44 mean 44."""
    background_queue_policy: int = 0

    def encode(self) -> bytes:
        """Return the 239 octets, or raise FieldError."""
        self._check()
        wire: dict[str, Any] = {name: getattr(self, name) for name in _NAMES}
        for name in _ADDRESSES:
            wire[name] = wire[name].packed
        for name in _LOW_OCTET_FIRST:
            wire[name] = wire[name].to_bytes(2, "little")
        for name, size in _TEXT_OCTETS.items():
            wire[name] = text_octets(name, wire[name], size, "ASCII")
        return art_header.id_and_op_code(art_header.OpCode.POLL_REPLY) + _LAYOUT.pack(*wire.values())

    @property
    def input_port_addresses(self) -> tuple[int, ...]:
        """The Port-Addresses that this device sends."""
        return self._port_addresses(PortTypes.INPUT, self.sw_in)

    @property
    def output_port_addresses(self) -> tuple[int, ...]:
        """The Port-Addresses that this device wants to be sent."""
        return self._port_addresses(PortTypes.OUTPUT, self.sw_out)

    def _port_addresses(self, direction: PortTypes, switches: bytes) -> tuple[int, ...]:
        return tuple(
            join(self.net_switch & NET_MAX, self.sub_switch & SUB_NET_MAX, switch & UNIVERSE_MAX)
            for kind, switch in zip(self.port_types[: self.num_ports], switches, strict=False)
            if kind & direction
        )

    def _check(self) -> None:
        for name, high in _NUMBER_MAX.items():
            check_range(name, getattr(self, name), 0, high)
        for name, size in _OCTET_COUNTS.items():
            check_range(f"number of octets in {name}", len(getattr(self, name)), size, size)
        for switch in self.sw_in + self.sw_out:
            check_range("SwIn and SwOut", switch, 0, UNIVERSE_MAX)


_NAMES = tuple(field.name for field in fields(ArtPollReply))
_LAYOUT = Struct(">4s2sHBBHBB2s18s64s64sH4s4s4s4s4sBBB3xB6s4sBB4sB6sHHB10x")
"""From octet 10 on, in the order of the fields."""
_ADDRESSES = ("ip", "bind_ip")
_LOW_OCTET_FIRST = ("port", "esta")
_TEXT_OCTETS = {
    "short_name": SHORT_NAME_CHARACTERS + 1,
    "long_name": LONG_NAME_CHARACTERS + 1,
    "node_report": LONG_NAME_CHARACTERS + 1,
}
_OCTET_COUNTS = {
    **dict.fromkeys(
        ("port_types", "good_input", "good_output_a", "sw_in", "sw_out", "good_output_b"), PORTS_PER_REPLY
    ),
    "mac": MAC_OCTETS,
    "default_resp_uid": UID_OCTETS,
}
_NUMBER_MAX = {
    **dict.fromkeys(("port", "version", "oem", "esta", "user", "refresh_rate"), WORD_MAX),
    **dict.fromkeys(("ubea_version", "status1", "acn_priority", "sw_macro", "sw_remote", "style"), OCTET_MAX),
    **dict.fromkeys(("bind_index", "status2", "status3", "background_queue_policy"), OCTET_MAX),
    "net_switch": NET_MAX,
    "sub_switch": SUB_NET_MAX,
    "num_ports": PORTS_PER_REPLY,
}


def read_poll_reply(datagram: Datagram) -> ArtPollReply:
    """Read an ArtPollReply, or raise PacketError."""
    expect_size(datagram, REPLY_LEAST_OCTETS)
    whole = bytes(datagram[:REPLY_OCTETS]).ljust(REPLY_OCTETS, b"\0")
    values = _LAYOUT.unpack_from(whole, art_header.PROT_VER_OCTET)
    wire: dict[str, Any] = dict(zip(_NAMES, values, strict=True))
    for name in _ADDRESSES:
        wire[name] = IPv4Address(wire[name])
    for name in _LOW_OCTET_FIRST:
        wire[name] = int.from_bytes(wire[name], "little")
    for name in _TEXT_OCTETS:
        wire[name] = read_text(wire[name])
    return ArtPollReply(**wire)


@dataclass(frozen=True, slots=True)
class NodeReport:
    """What a device says about itself in ArtPollReply: "#xxxx [yyyy] words"."""

    code: int
    """0 to 0xFFFF; 0x0001 is 'power-on tests passed'."""
    counter: int
    """How many replies the device has sent, 0 to 9999, then from 0 again."""
    words: str

    def encode(self) -> str:
        """Return the text for ArtPollReply's `node_report`, or raise FieldError."""
        check_range("NodeReport code", self.code, 0, WORD_MAX)
        check_range("NodeReport counter", self.counter, 0, REPORT_COUNTER_MAX)
        report = f"#{self.code:04x} [{self.counter:04}] {self.words}"
        text_octets("node_report", report, _TEXT_OCTETS["node_report"], "ASCII")
        return report


_REPORT = re.compile(r"#([0-9A-Fa-f]{4}) *\[([0-9]+)\] *(.*)")


def parse_node_report(node_report: str) -> NodeReport | None:
    """Read a NodeReport; None where a device writes something else there, which is common."""
    match = _REPORT.fullmatch(node_report)
    if not match:
        return None
    code, counter, words = match.groups()
    return NodeReport(int(code, 16), int(counter), words)
