"""Packets of equal length side by side in one matrix: laid out once, then patched in place each frame."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Bytes, Frame
from streamer.display.model import MULTICAST, MULTICAST_IPV6, Controller, Protocol
from streamer.display.patch import Patch, Stream, StreamKey
from streamer.display.slots import Indices
from streamer.engine.changes import Changes
from streamer.engine.difference import Chosen
from streamer.engine.scatter import Patches, Scatter
from streamer.engine.signals import Signal, signal_of
from streamer.wire import artnet, e131, lay_out
from streamer.wire.sequence import (
    ARTNET_UNORDERED,
    artnet_after,
    artnet_before,
    artnet_next,
    e131_after,
    e131_before,
    e131_next,
)


class Batch:
    """The packets of some streams of a patch: one protocol, one length."""

    def __init__(self, patch: Patch, streams: Sequence[int], packets: Sequence[bytearray]) -> None:
        chosen = [patch.streams[index] for index in streams]
        self.keys: tuple[StreamKey, ...] = tuple(stream.key for stream in chosen)
        self.protocol = self.keys[0].protocol
        self.destinations = tuple(_destination(key) for key in self.keys)
        length = len(packets[0])
        flat = self._flat = np.zeros(len(packets) * length + 1, np.uint8)
        self.packets: Bytes = flat[:-1].reshape(-1, length)
        self.packets[:] = [np.frombuffer(packet, np.uint8) for packet in packets]
        wire = e131 if self.protocol is Protocol.E131 else artnet
        self.sequence_octet, self.slots_octet = wire.SEQUENCE_OCTET, wire.SLOTS_OCTET
        self.numbers: Bytes = self.packets[:, wire.SEQUENCE_OCTET]
        """The sequence number that each packet was sent with last, (packets,)."""
        self._is_numbered = np.array([stream.controller.sequence for stream in chosen], np.bool_)
        self._slots = self.packets[:, wire.SLOTS_OCTET :]
        self._signals = [signal_of(stream.controller) for stream in chosen]
        self.is_held = any(self._signals)
        """Whether some of its levels are shown only when a synchronization packet comes."""
        rows = np.full(len(patch.streams), -1, np.intp)
        rows[np.asarray(streams)] = np.arange(len(streams))
        self._scatter = Scatter(patch, rows, flat, self.packets, wire.SLOTS_OCTET)

    def write(self, frame: Frame, nodes: Chosen) -> NDArray[np.bool_]:
        """Write a frame into the packets and say which of them changed.

        `nodes` are the only ones that may differ from the frame written last.
        """
        return self._scatter.write(frame, nodes)

    def write_each(self, nodes: Bytes, channels: Bytes, flats: Bytes) -> None:
        """Write frames into copies of the packets: see `Scatter.write_each`."""
        self._scatter.write_each(nodes, channels, flats)

    def signals(self, rows: Indices) -> set[Signal]:
        """Return what must be sent after the packets of these rows for their levels to be shown."""
        if not self.is_held:
            return set()
        return {signal for row in rows.tolist() if (signal := self._signals[row])}

    def number(self, rows: Indices, numbers: Bytes | None = None) -> None:
        """Give the packets of these rows, all different, their next sequence numbers; or count so in others.

        `numbers` are those of all packets, (packets,).
        """
        sequence = self.numbers if numbers is None else numbers
        if self.protocol is Protocol.E131:
            if len(rows) == len(self.keys):
                sequence[:] = e131_next(sequence)
            else:
                sequence[rows] = e131_next(sequence[rows])
            return
        following = artnet_next(sequence[rows])
        sequence[rows] = np.where(self._is_numbered[rows], following, ARTNET_UNORDERED)

    def number_all(self, numbers: Bytes) -> None:
        """Count all packets on for frames to come, sent with each of them: (F, packets)."""
        steps = np.arange(1, len(numbers) + 1)[:, None]
        if self.protocol is Protocol.E131:
            numbers[:] = e131_after(self.numbers, steps)
            return
        following = artnet_after(self.numbers, steps)
        numbers[:] = np.where(self._is_numbered, following, ARTNET_UNORDERED)

    def patches(self, changes: Changes, frames: int) -> Patches:
        """Return what frames to come change in the packets: see `Scatter.patches`."""
        return self._scatter.patches(changes, frames)

    def patch(self, octets: Indices, values: Bytes, numbers: Bytes) -> None:
        """Write what a frame changes, and the numbers of all packets."""
        self._flat[octets] = values
        self.numbers[:] = numbers

    def take_back(self, rows: Indices) -> None:
        """Let these rows have the sequence numbers of before: numbered, they have not been sent."""
        if self.protocol is Protocol.E131:
            self.numbers[rows] = e131_before(self.numbers[rows])
            return
        numbered = rows[self._is_numbered[rows]]
        self.numbers[numbered] = artnet_before(self.numbers[numbered])

    def sequences(self, rows: Indices) -> dict[StreamKey, int]:
        """Return the last sequence number of the streams in these rows."""
        return {self.keys[row]: int(self.numbers[row]) for row in rows.tolist()}

    def resume(self, sequences: Mapping[StreamKey, int]) -> None:
        """Go on counting where earlier packets of the same streams stopped."""
        for row, key in enumerate(self.keys):
            self.numbers[row] = sequences.get(key, int(self.numbers[row]))

    def take_slots(self, before: "Batch", there: Indices, here: Indices) -> None:
        """Start in rows `here` with what rows `there` of a batch of equal packets sent last."""
        self._slots[here] = before.packets[there, -self._slots.shape[1] :]

    def darken(self) -> None:
        """Set every slot to zero."""
        self._slots[:] = 0

    def terminate(self) -> None:
        """Mark the streams as ended (ANSI E1.31-2018 clause 6.2.6); Art-Net has no such mark."""
        if self.protocol is Protocol.E131:
            self.packets[:, e131.OPTIONS_OCTET] |= np.uint8(e131.Options.STREAM_TERMINATED)


def lay_out_batches(patch: Patch, cid: UUID, source_name: str) -> Iterator[Batch]:
    """Yield the batches of a patch: streams of equal protocol and slot count together."""

    def kind(index: int) -> tuple[str, int]:
        stream = patch.streams[index]
        return stream.key.protocol.value, stream.controller.slots

    for _, group in groupby(sorted(range(len(patch.streams)), key=kind), kind):
        indexes = list(group)
        packets = [_packet(patch.streams[index], cid, source_name) for index in indexes]
        yield Batch(patch, indexes, packets)


def _packet(stream: Stream, cid: UUID, source_name: str) -> bytearray:
    controller = stream.controller
    if controller.protocol is Protocol.ARTNET:
        return lay_out.artdmx(
            port_address=stream.key.universe,
            slot_count=controller.slots,
            sequence=0,
            physical=controller.physical,
        )
    return lay_out.e131_data(
        cid=cid,
        source_name=source_name,
        universe=stream.key.universe,
        slot_count=controller.slots,
        priority=controller.priority,
        sync_address=controller.sync_address,
        options=_options(controller),
        start_code=controller.start_code,
    )


def _options(controller: Controller) -> e131.Options:
    options = e131.Options(0)
    if controller.preview:
        options |= e131.Options.PREVIEW_DATA
    if controller.force_synchronization:
        options |= e131.Options.FORCE_SYNCHRONIZATION
    return options


def _destination(key: StreamKey) -> tuple[str, int]:
    if key.protocol is Protocol.ARTNET:
        return key.address, artnet.PORT
    if key.address == MULTICAST:
        return e131.multicast_group(key.universe), e131.PORT
    if key.address == MULTICAST_IPV6:
        return e131.multicast_group_v6(key.universe), e131.PORT
    return key.address, e131.PORT
