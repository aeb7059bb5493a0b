"""One Art-Net device, put together from its ArtPollReply packets: one for each BindIndex."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from streamer.scan.memory import Remembered
from streamer.scan.status import (
    GOOD_INPUT,
    GOOD_OUTPUT,
    OUTPUT_TAKES_E131,
    bit_words,
    protocol_words,
    report_words,
    status_words,
    style_words,
)
from streamer.wire.art_poll_reply import NO_ADDRESS, ArtPollReply, PortTypes, parse_node_report
from streamer.wire.port_address import NET_MAX, SUB_NET_MAX, UNIVERSE_MAX, join

WORST_CODES = (0x0002, 0x000D)
"""NodeReport: power-on tests failed, an output is short."""


class Direction(StrEnum):
    """Which way a port leads, seen from the network."""

    OUTPUT = "output"
    """Art-Net comes in by the network and leaves by this port."""
    INPUT = "input"


@dataclass(frozen=True, slots=True)
class NodePort:
    """One port of a device."""

    number: int
    """From 1, outputs and inputs each for themselves, over all of the device's replies."""
    direction: Direction
    port_address: int
    """0 to 32767."""
    protocol: str
    """What the other side speaks, in words: "DMX512"."""
    takes_e131: bool
    """An output that is switched to E1.31: what `port_address` then means, no standard says."""
    status: tuple[str, ...]
    """In words."""
    bind_index: int


@dataclass(frozen=True, slots=True)
class Report:
    """A NodeReport in its parts, the latest of all of the device's replies, a bad one before all others."""

    code: int
    meaning: str
    """Of the code."""
    counter: int
    """How many replies the device says that it has sent, 0 to 9999; it begins anew when it is switched on."""
    words: str
    """The device's own."""


@dataclass(frozen=True, slots=True)
class Device:
    """What one device says of itself. Its texts hold printable characters only."""

    address: str
    """As it says itself; levels for it go there."""
    source: str
    """Where its replies come from: another address only with a fault, a router or a yard between."""
    bound_to: str
    """The root device's address, where it is a part of a product with several; else ""."""
    short_name: str
    long_name: str
    mac: str
    """"02:1b:3d:5f:71:93", "" where it does not say."""
    firmware: str
    """VersInfo as hex, "0x0203"."""
    oem: str
    """As hex; 0x00ff is not known."""
    esta: str
    """The manufacturer's code as hex."""
    style: str
    """"node", "controller" and so on."""
    ports: tuple[NodePort, ...]
    status: tuple[str, ...]
    """Status1 to Status3 in words."""
    report: Report | None
    """None where it writes something else, or nothing, as NodeReport."""
    report_text: str
    """NodeReport as it is written."""
    refresh_rate_hz: int
    """The most ArtDmx a second that it takes; 0 where it does not say, which means 44."""
    bind_indexes: tuple[int, ...]
    replies: int
    """How many were heard."""
    first_s: float
    heard_s: float
    """When the first and the latest reply came, on the clock that `now` was given by."""
    is_there: bool
    """Whether it has answered the last poll that it had 3 s to answer."""
    silences: int
    """How often it had not answered in time, and did again later; or has not until now."""
    restarts: int
    """How often it seems to have been switched off and on since it was first heard."""
    restart: str
    """How the last one was noticed, in words, "" without any."""

    @property
    def outputs(self) -> tuple[NodePort, ...]:
        """Return the ports that want levels."""
        return tuple(port for port in self.ports if port.direction is Direction.OUTPUT)

    @property
    def name(self) -> str:
        """Return what to call it: its short name, or the long one, or its address."""
        return self.short_name.strip() or self.long_name.strip() or self.address


def device_of(remembered: Sequence[Remembered], answer_due_s: float) -> Device:
    """Return the device whose replies these are; there is at least one, the root's first.

    It is there if it was heard since `answer_due_s`, the latest poll that it should have answered by now.
    """
    replies = [each.reply for each in remembered]
    root = replies[0]
    latest = max(remembered, key=lambda each: each.heard_s)
    restarted = max(remembered, key=lambda each: (each.restarts, each.heard_s))
    is_there = latest.heard_s >= answer_due_s
    report, text = _report(remembered)
    bound_to = "" if root.bind_ip in (NO_ADDRESS, root.ip) else str(root.bind_ip)
    return Device(
        address=remembered[0].address,
        source=remembered[0].source,
        bound_to=bound_to,
        short_name=root.short_name,
        long_name=root.long_name,
        mac=root.mac.hex(":") if any(root.mac) else "",
        firmware=f"{root.version:#06x}",
        oem=f"{root.oem:#06x}",
        esta=f"{root.esta:#06x}",
        style=style_words(root.style),
        ports=tuple(_ports(replies)),
        status=status_words(root),
        report=report,
        report_text=text,
        refresh_rate_hz=root.refresh_rate,
        bind_indexes=tuple(reply.bind_index for reply in replies),
        replies=sum(each.count for each in remembered),
        first_s=min(each.first_s for each in remembered),
        heard_s=latest.heard_s,
        is_there=is_there,
        silences=max(each.silences for each in remembered) + (not is_there),
        restarts=restarted.restarts,
        restart=restarted.restart,
    )


def _ports(replies: Sequence[ArtPollReply]) -> Iterator[NodePort]:
    numbers = dict.fromkeys(Direction, 0)
    for reply in replies:
        for direction, index in _directions(reply):
            is_output = direction is Direction.OUTPUT
            switch = (reply.sw_out if is_output else reply.sw_in)[index]
            good = (reply.good_output_a if is_output else reply.good_input)[index]
            numbers[direction] += 1
            yield NodePort(
                numbers[direction],
                direction,
                join(reply.net_switch & NET_MAX, reply.sub_switch & SUB_NET_MAX, switch & UNIVERSE_MAX),
                protocol_words(reply.port_types[index]),
                is_output and bool(good & OUTPUT_TAKES_E131),
                tuple(bit_words(good, GOOD_OUTPUT if is_output else GOOD_INPUT)),
                reply.bind_index,
            )


def _directions(reply: ArtPollReply) -> Iterator[tuple[Direction, int]]:
    """Yield each port that there is; one that can do both is two."""
    for index, kind in enumerate(reply.port_types[: reply.num_ports]):
        if kind & PortTypes.OUTPUT:
            yield Direction.OUTPUT, index
        if kind & PortTypes.INPUT:
            yield Direction.INPUT, index


def _report(remembered: Sequence[Remembered]) -> tuple[Report | None, str]:
    """Return the report that matters most, and its text: a bad one, else the latest."""
    found = []
    for each in remembered:
        parsed = parse_node_report(each.reply.node_report)
        if parsed:
            report = Report(parsed.code, report_words(parsed.code), parsed.counter, parsed.words)
            found.append((parsed.code in WORST_CODES, each.heard_s, report, each.reply.node_report))
    if not found:
        return None, remembered[0].reply.node_report
    *_, report, text = max(found, key=lambda each: each[:2])
    return report, text
