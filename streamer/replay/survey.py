"""What a capture holds, and whether its lights would flash: looked at before any of it is streamed."""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from streamer.capture.datagram import Datagram
from streamer.engine.difference import EVERY
from streamer.engine.flashes import FlashWatch, swing_of
from streamer.engine.total_watch import TotalWatch
from streamer.replay.contents import Stream, has_levels, playable, stream_of
from streamer.wire.artnet import ArtDmx
from streamer.wire.e131 import SLOTS_MAX, DataPacket

NS_PER_S = 1e9
STREAMS_MAX = 8_192
"""Of one capture: far more than any display has, and some megabytes of memory."""


@dataclass(slots=True)
class Survey:
    """What was found. Times are seconds after the capture's first packet."""

    packets: int = 0
    """Levels and synchronization."""
    passed_over: int = 0
    """Datagrams of any other kind."""
    streams: set[Stream] = field(default_factory=set)
    is_more: bool = False
    """Whether there are more streams than are told apart."""
    lasts_s: float = 0.0
    flashes_from_s: float | None = None
    """When some light would flash more often than it may in a second for the first time."""
    flashing: set[Stream] = field(default_factory=set)


def survey(datagrams: Iterable[Datagram], speed: float) -> Survey:
    """Look through a capture as it would be streamed at `speed` times its own pace."""
    found, flashes, first_ns = Survey(), _Flashes(), None
    for datagram in datagrams:
        packet = playable(datagram)
        if packet is None:
            found.passed_over += 1
            continue
        found.packets += 1
        first_ns = datagram.stamp_ns if first_ns is None else first_ns
        at_s = (datagram.stamp_ns - first_ns) / NS_PER_S
        found.lasts_s = max(found.lasts_s, at_s)
        if isinstance(packet, DataPacket | ArtDmx):
            _look(found, flashes, stream_of(packet, datagram), packet, at_s / speed)
    return found


def _look(
    found: Survey, flashes: "_Flashes", stream: Stream, packet: DataPacket | ArtDmx, now_s: float
) -> None:
    if stream not in found.streams:
        found.is_more |= len(found.streams) >= STREAMS_MAX
        if found.is_more:
            return
        found.streams.add(stream)
    if has_levels(packet) and not flashes.allows(stream, packet.slots, now_s):
        found.flashing.add(stream)
        found.flashes_from_s = now_s if found.flashes_from_s is None else found.flashes_from_s


class _Flashes:
    """Counts as the flash guard does: each slot by itself, and all of them together."""

    def __init__(self) -> None:
        self._watches: dict[Stream, FlashWatch] = {}
        self._sums: dict[Stream, int] = {}
        self._whole = TotalWatch(1)
        self._total = self._peak = 0

    def allows(self, stream: Stream, slots: bytes, now_s: float) -> bool:
        """Take note of levels, and say whether they flash no more often than they may."""
        values = np.zeros((SLOTS_MAX, 1), np.uint8)
        values[: len(slots), 0] = np.frombuffer(slots, np.uint8)
        watch = self._watches.setdefault(stream, FlashWatch(SLOTS_MAX, 1))
        self._peak = max(self._peak, max(slots, default=0))
        swing, total_swing = swing_of(self._peak), swing_of(self._peak * SLOTS_MAX * len(self._watches))
        self._total += sum(slots) - self._sums.get(stream, 0)
        self._sums[stream] = sum(slots)
        is_allowed = watch.allows(EVERY, values, swing, now_s)
        is_allowed &= self._whole.allows([self._total], total_swing, now_s)
        watch.follow(EVERY, values, swing, now_s)
        self._whole.follow([self._total], total_swing, now_s)
        return is_allowed
