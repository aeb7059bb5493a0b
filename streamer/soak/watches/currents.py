"""What currents the frames call for, by supply: reckoned once a second from the newest frame sent."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from patterns.plain import Bytes
from streamer.display.model import Display
from streamer.errors import LinkError
from streamer.link.newest import NewestFrame
from streamer.power.basis import basis_of
from streamer.power.feed_currents import FeedCurrents
from streamer.soak.findings import Quiet
from streamer.soak.records import Sample

LOOK_EACH_S = 1.0

LookAtFrame = Callable[[], Bytes | None]
"""Gives the nodes of the newest frame, (N, 4) octets; None while there is none."""


class CurrentWatch(Quiet):
    """Keeps the most that each supply was called for since the last sample."""

    name = "the currents"

    def __init__(self, display: Display, look_at_frame: LookAtFrame) -> None:
        self._look_at_frame = look_at_frame
        self._looked_s = float("-inf")
        self._total_a: float | None = None
        self._most_a: dict[str, float] = {}
        self._currents: FeedCurrents | None = None
        if any(port.supply or port.node_kind for port in display.ports):
            self._currents = FeedCurrents(tuple(basis_of(display, port) for port in display.ports))
            self._supplies = np.array([feed.supply or "" for feed in self._currents.feeds])

    def look(self, now_s: float) -> None:
        """Reckon the currents of the newest frame."""
        if self._currents is None or now_s - self._looked_s < LOOK_EACH_S:
            return
        self._looked_s = now_s
        nodes = self._look_at_frame()
        if nodes is None:
            return
        feed_a = self._currents.idle_a + self._currents.dimmable_a(nodes)
        self._total_a = max(self._total_a or 0.0, float(feed_a.sum()))
        for supply in filter(None, dict.fromkeys(self._supplies.tolist())):
            amps = float(feed_a[self._supplies == supply].sum())
            self._most_a[supply] = max(self._most_a.get(supply, 0.0), amps)

    def add_to(self, sample: Sample) -> Sample:
        """Return the sample with the most since the last one."""
        total_a, self._total_a = self._total_a, None
        most_a, self._most_a = self._most_a, {}
        return replace(sample, amps=most_a, amps_total=total_a)


def newest_nodes(frame_path: Callable[[], str]) -> LookAtFrame:
    """Return what looks at the shared frame whose path is told, which changes when an engine begins anew."""
    known: dict[str, NewestFrame] = {}

    def look() -> Bytes | None:
        path = frame_path()
        if not path:
            return None
        if path not in known:
            known.clear()
            known[path] = NewestFrame.open(Path(path))
        try:
            number, frame = known[path].look()
        except LinkError:
            # Its writer is held in the middle of a frame, with the machine or alone: the next look will do.
            return None
        return frame.nodes if number else None

    return look
