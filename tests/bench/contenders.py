"""Those who send in the bench: ours by each way, plain Python, and two reference libraries.

Each is made for a number of universes and a port on loopback, and gives a function that sends one frame: new
slots and the next sequence number in every packet, as an engine does.
"""

import socket
import time
from collections.abc import Callable
from typing import Any
from uuid import uuid4

import numpy as np
from sacn.messages.data_packet import DataPacket
from sacn.sending.output import Output
from sacn.sending.sender_handler import SenderHandler
from stupidArtnet import StupidArtnet

from streamer.net.batched import open_sender
from streamer.net.interfaces import find_interface
from streamer.net.ways import Way
from streamer.wire.e131 import SEQUENCE_OCTET, SLOTS_OCTET, Options
from streamer.wire.lay_out import e131_data
from tests.bench.measuring import LOOPBACK

SLOTS = 512
LEVELS = 256
Frame = Callable[[], None]
Make = Callable[[int, int], Frame]


def group(number: int) -> str:
    """Return the group of a universe, counted from 0."""
    return f"239.255.{(number + 1) >> 8}.{(number + 1) & 255}"


def _matrix(universes: int) -> np.ndarray:
    cid = uuid4()
    laid_out = [
        e131_data(
            cid=cid,
            source_name="bench",
            universe=number + 1,
            slot_count=SLOTS,
            priority=100,
            sync_address=0,
            options=Options(0),
            start_code=0,
        )
        for number in range(universes)
    ]
    return np.array([np.frombuffer(packet, np.uint8) for packet in laid_out])


class Picture:
    """What is to be shown: other slots at each frame, and packets that carry them."""

    def __init__(self, universes: int) -> None:
        self.packets = _matrix(universes)
        self._slots = np.zeros((universes, SLOTS), np.uint8)

    def next(self) -> None:
        """Write the next frame."""
        self._slots += 1
        self.packets[:, SLOTS_OCTET:] = self._slots
        self.packets[:, SEQUENCE_OCTET] += 1


def ours(only: Way | None, *, is_multicast: bool = False, piece: int = 0) -> Make:
    """Return how our own sender is made; `piece` rows a call, as a paced engine does, or all at once."""

    def make(universes: int, port: int) -> Frame:
        sender = open_sender(find_interface(LOOPBACK), only=only)
        picture, every = Picture(universes), np.arange(universes)
        addresses = [group(number) if is_multicast else LOOPBACK for number in range(universes)]
        destinations = tuple((address, port) for address in addresses)
        step = piece or universes

        def frame() -> None:
            picture.next()
            for first in range(0, universes, step):
                sender.send(picture.packets, every[first : first + step], destinations)

        return frame

    return make


def plain(universes: int, port: int) -> Frame:
    """Send by `socket.sendto` in a loop, without any of our own sending code."""
    sock, picture = socket.socket(socket.AF_INET, socket.SOCK_DGRAM), Picture(universes)
    to = LOOPBACK, port

    def frame() -> None:
        picture.next()
        for packet in picture.packets:
            sock.sendto(packet.data, to)

    return frame


class _Loopback:
    """Stands for sacn's own socket: the same call, to a port of ours, and never a group or a broadcast."""

    def __init__(self, port: int) -> None:
        self._socket, self._port = socket.socket(socket.AF_INET, socket.SOCK_DGRAM), port

    def send_unicast(self, packet: Any, destination: str) -> None:  # noqa: ANN401  the library is untyped
        self._socket.sendto(bytearray(packet.getBytes()), (destination, self._port))


def with_sacn(universes: int, port: int) -> Frame:
    """Send as the library's periodic thread does, in our own: data set, then all that changed goes."""
    outputs = {}
    for number in range(1, universes + 1):
        output = Output(DataPacket(cid=(1,) * 16, sourceName="bench", universe=number))
        output.destination = LOOPBACK
        outputs[number] = output
    handler = SenderHandler((1,) * 16, "bench", outputs, LOOPBACK, 0, 30, _Loopback(port))
    handler.universe_discovery = False
    level = 0

    def frame() -> None:
        nonlocal level
        level = (level + 1) % LEVELS
        for output in outputs.values():
            output.dmx_data = (level,) * SLOTS
        handler.on_periodic_callback(time.time())

    return frame


def with_stupid_artnet(universes: int, port: int) -> Frame:
    """Send with an object for each universe: set, then show."""
    objects = [StupidArtnet(LOOPBACK, number, SLOTS, port=port) for number in range(universes)]
    level = 0

    def frame() -> None:
        nonlocal level
        level = (level + 1) % LEVELS
        slots = bytearray([level]) * SLOTS
        for each in objects:
            each.set(slots)
            each.show()

    return frame


CONTENDERS: dict[str, Make] = {
    "ours": ours(None),
    "ours, 32 rows a call": ours(None, piece=32),
    "ours, sendmmsg only": ours(Way.SENDMMSG),
    "ours, sendto only": ours(Way.SENDTO),
    "ours, multicast": ours(None, is_multicast=True),
    "Python sendto": plain,
    "stupidArtnet": with_stupid_artnet,
    "sacn": with_sacn,
}
IN_C = {
    "C offload": "offload",
    "C offload, spread": "spread",
    "C sendmmsg": "sendmmsg",
    "C sendto": "sendto",
    "C multicast": "groups",
}
MULTICAST = frozenset({"ours, multicast", "C multicast"})
