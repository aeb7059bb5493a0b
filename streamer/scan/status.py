"""The bits of an ArtPollReply in words: Art-Net 4, Status1 to Status3, GoodInput, GoodOutputA."""

from collections.abc import Iterator, Mapping

from streamer.wire.art_poll_reply import ArtPollReply

INDICATORS = {1: "indicators: locate", 2: "indicators: mute", 3: "indicators: normal"}
"""Status1, bits 7 and 6; 0 is not known."""
ADDRESSES_SET = {1: "addresses set on its panel", 2: "addresses set over the network"}
"""Status1, bits 5 and 4; 0 is not known."""
ON_DATA_LOSS = {
    0: "on data loss: holds",
    1: "on data loss: dark",
    2: "on data loss: full",
    3: "on data loss: plays its scene",
}
"""Status3, bits 7 and 6."""
FAILOVER = 0x20
"""Status3: whether the node can do anything else than hold."""
INDICATOR_SHIFT, ADDRESS_SHIFT, LOSS_SHIFT, TWO_BITS = 6, 4, 6, 3

STATUS1 = {0x04: "booted from ROM: its firmware may be broken", 0x02: "RDM"}
STATUS2 = {
    0x80: "RDM by ArtCommand",
    0x40: "output style by ArtCommand",
    0x20: "squawking",
    0x10: "can switch to E1.31",
    0x08: "15-bit Port-Addresses",
    0x04: "can use DHCP",
    0x02: "address by DHCP",
    0x01: "has a web page",
}
STATUS3 = {FAILOVER: "fail-over", 0x10: "LLRP", 0x08: "ports can switch direction"}
GOOD_INPUT = {
    0x80: "data comes in",
    0x40: "test packets",
    0x20: "system information packets",
    0x10: "text packets",
    0x08: "switched off",
    0x04: "receive errors",
    0x01: "becomes E1.31",
}
SHORT = "SHORT CIRCUIT"
GOOD_OUTPUT = {
    0x80: "data goes out",
    0x40: "test packets",
    0x20: "system information packets",
    0x10: "text packets",
    0x08: "merges two sources",
    0x04: SHORT,
    0x02: "merge: latest takes precedence",
    0x01: "takes E1.31",
}
STYLES = {
    0: "node",
    1: "controller",
    2: "media server",
    3: "router",
    4: "backup",
    5: "configuration tool",
    6: "visualiser",
}
PORT_PROTOCOLS = {0: "DMX512", 1: "MIDI", 5: "Art-Net", 6: "DALI"}
"""PortTypes, bits 5 to 0; 2 to 4 are dimmer protocols of the past."""
PORT_PROTOCOL_BITS = 0x3F
OUTPUT_TAKES_E131 = 0x01
"""GoodOutputA: this output is switched to E1.31."""

REPORTS = {
    0x0000: "debug",
    0x0001: "power-on tests passed",
    0x0002: "power-on tests FAILED",
    0x0003: "a socket could not be written",
    0x0004: "a packet could not be read",
    0x0005: "UDP failed",
    0x0006: "short name was set",
    0x0007: "long name was set",
    0x0008: "DMX512 receive errors",
    0x0009: "transmit buffers full",
    0x000A: "receive buffers full",
    0x000B: "universe switches conflict",
    0x000C: "configuration does not match the firmware",
    0x000D: "an output is SHORT",
    0x000E: "firmware upload failed",
    0x000F: "a change was ignored: addresses are locked",
    0x0010: "factory reset was done",
}
"""NodeReport codes, by many copies of the specification's table."""


def status_words(reply: ArtPollReply) -> tuple[str, ...]:
    """Return what Status1 to Status3 say of the device, in words."""
    return tuple(_status(reply))


def _status(reply: ArtPollReply) -> Iterator[str]:
    for table, shift in ((INDICATORS, INDICATOR_SHIFT), (ADDRESSES_SET, ADDRESS_SHIFT)):
        word = table.get(reply.status1 >> shift & TWO_BITS)
        if word:
            yield word
    yield from bit_words(reply.status1, STATUS1)
    yield from bit_words(reply.status2, STATUS2)
    yield from bit_words(reply.status3, STATUS3)
    if reply.status3 & FAILOVER:
        yield ON_DATA_LOSS[reply.status3 >> LOSS_SHIFT & TWO_BITS]


def bit_words(octet: int, table: Mapping[int, str]) -> Iterator[str]:
    """Yield the words of the bits that are set, in the order of the table."""
    yield from (words for bit, words in table.items() if octet & bit)


def style_words(style: int) -> str:
    """Return what kind of device it is, by its Style code."""
    return STYLES.get(style, f"style {style}")


def protocol_words(port_type: int) -> str:
    """Return which protocol a port speaks, by its PortTypes octet."""
    protocol = port_type & PORT_PROTOCOL_BITS
    return PORT_PROTOCOLS.get(protocol, f"protocol {protocol}")


def report_words(code: int) -> str:
    """Return what a NodeReport code means."""
    return REPORTS.get(code, f"code {code:#06x}")
