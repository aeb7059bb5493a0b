"""Streams a capture again at its own pace or another, and ends it dark. Clock and sender are the caller's."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from streamer.capture.datagram import Datagram
from streamer.net.destinations import Destination
from streamer.replay.contents import playable, stream_of
from streamer.replay.ending import OpenStreams
from streamer.wire.artnet import ArtDmx
from streamer.wire.e131 import DataPacket

NS_PER_S = 1e9
LATE_S = 0.025
"""A frame at 40 a second: what comes later than that follows its successor."""
GAP_S = 0.025
"""Between the last packets of a stream: ANSI E1.31-2018 clause 6.6.1 allows 44 a second."""
TURN_S = 0.05
"""The longest wait: the end is noticed within this time."""


@dataclass(slots=True)
class Played:
    """What was streamed so far."""

    packets: int = 0
    late: int = 0
    """Packets later than LATE_S, because the file could not be read, or the packet sent, as fast as asked."""
    at_s: float = 0.0
    """In the capture, after its first packet."""
    is_whole: bool = False
    """Whether it came to the capture's end."""


@dataclass(frozen=True, slots=True)
class Edge:
    """Where time and packets go: a steady clock in seconds, a wait, and a sender that never raises."""

    clock: Callable[[], float]
    wait: Callable[[float], None]
    send: Callable[[bytes, Destination], None]
    is_over: Callable[[], bool]
    """Whether the end was asked for."""


def play(datagrams: Iterable[Datagram], edge: Edge, speed: float, to: str | None = None) -> Iterator[Played]:
    """Stream levels and synchronization, each at its moment over `speed`; yield how far it is now and then.

    The octets are the capture's own. They go where they went, or all to the address `to`. A pause in the
    capture is a pause. At the end, also one that is asked for, every stream is ended: see `OpenStreams`.
    """
    played, streams, first_ns, began_s = Played(), OpenStreams(), None, edge.clock()
    for datagram in datagrams:
        packet = playable(datagram)
        if packet is None:
            continue
        if first_ns is None:
            first_ns, began_s = datagram.stamp_ns, edge.clock()
        at_s = (datagram.stamp_ns - first_ns) / NS_PER_S
        yield from _waiting(played, edge, began_s + at_s / speed)
        if edge.is_over():
            break
        played.late += edge.clock() - (began_s + at_s / speed) > LATE_S
        destination = (to or datagram.destination[0], datagram.destination[1])
        edge.send(datagram.octets, destination)
        played.packets, played.at_s = played.packets + 1, at_s
        if isinstance(packet, DataPacket | ArtDmx):
            streams.note(stream_of(packet, datagram), packet, destination)
    else:
        played.is_whole = True
    for packets in streams.last_packets():
        for octets, destination in packets:
            edge.send(octets, destination)
        edge.wait(GAP_S)
    yield played


def _waiting(played: Played, edge: Edge, due_s: float) -> Iterator[Played]:
    while (left_s := due_s - edge.clock()) > 0 and not edge.is_over():
        if left_s > TURN_S:
            yield played
        edge.wait(min(left_s, TURN_S))
