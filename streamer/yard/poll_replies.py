"""What the yard's Art-Net controllers answer when they are asked who is there (ArtPoll).

A node waits at random, up to a second, so that many do not answer at once. On loopback nobody is
flooded, so these answers come at once.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from ipaddress import IPv4Address
from itertools import groupby

from streamer.wire.art_poll_reply import (
    LONG_NAME_CHARACTERS,
    PORTS_PER_REPLY,
    REPORT_COUNTER_MAX,
    SHORT_NAME_CHARACTERS,
)
from streamer.wire.artnet import ArtPoll, ArtPollReply, NodeReport, PollFlags, PortTypes
from streamer.wire.fields import OCTET_MAX
from streamer.wire.port_address import split

ESTA_PROTOTYPE = 0x7FF0
"""Set aside for prototypes and experiments in the ESTA list of manufacturer codes (ANSI E1.20)."""
STATUS2_PORT_ADDRESS_15_BITS = 0x08
DATA_BEING_OUTPUT = 0x80
"""GoodOutputA."""
POWER_ON_TESTS_PASSED = 0x0001
"""NodeReport codes."""
REPORT_COUNTERS = REPORT_COUNTER_MAX + 1


def poll_replies(
    poll: ArtPoll, nodes: Mapping[str, Iterable[int]], live: frozenset[int], ip: str, counter: int
) -> Iterator[bytes]:
    """Yield the ArtPollReply packets of all nodes, which share one IP address and differ by BindIndex.

    `nodes` gives each node's name its Port-Addresses; up to four of one Net and Sub-Net go in a reply.
    BindIndex is an octet, so there are 255 replies at most. `live` are the Port-Addresses with data.
    """
    whole = [(name, ports) for name, addresses in nodes.items() for ports in _groups(addresses)]
    for bind_index, (name, ports) in enumerate(whole[:OCTET_MAX], start=1):
        if PollFlags.TARGETED not in poll.flags or _is_targeted(poll, ports):
            yield replace(
                _reply(name, ports, live),
                ip=IPv4Address(ip),
                bind_ip=IPv4Address(ip),
                bind_index=bind_index,
                node_report=NodeReport(POWER_ON_TESTS_PASSED, counter, "virtual").encode(),
            ).encode()


def _groups(addresses: Iterable[int]) -> Iterator[list[int]]:
    for _, near in groupby(sorted(set(addresses)), key=lambda address: split(address)[:2]):
        ports = list(near)
        yield from (ports[first : first + PORTS_PER_REPLY] for first in range(0, len(ports), PORTS_PER_REPLY))


def _is_targeted(poll: ArtPoll, ports: Iterable[int]) -> bool:
    return any(poll.target_bottom <= address <= poll.target_top for address in ports)


def _reply(name: str, ports: list[int], live: frozenset[int]) -> ArtPollReply:
    net, sub_net, _ = split(ports[0])
    plain = "".join(each if each.isascii() and each.isprintable() else "?" for each in name)
    return ArtPollReply(
        net_switch=net,
        sub_switch=sub_net,
        esta=ESTA_PROTOTYPE,
        short_name=plain[:SHORT_NAME_CHARACTERS],
        long_name=f"{plain}, a virtual controller"[:LONG_NAME_CHARACTERS],
        num_ports=len(ports),
        port_types=_four(PortTypes.OUTPUT for _ in ports),
        good_output_a=_four(DATA_BEING_OUTPUT if address in live else 0 for address in ports),
        sw_out=_four(split(address)[2] for address in ports),
        status2=STATUS2_PORT_ADDRESS_15_BITS,
    )


def _four(octets: Iterable[int]) -> bytes:
    return bytes(octets).ljust(PORTS_PER_REPLY, b"\0")
