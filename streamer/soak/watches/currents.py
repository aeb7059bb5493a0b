"""What currents the frames call for, by supply: reckoned once a second from the newest frame sent."""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from patterns.plain import Bytes
from streamer.display.model import Display
from streamer.errors import LinkError
from streamer.link.newest import NewestFrame
from streamer.power.basis import basis_of
from streamer.power.feed_currents import FeedCurrents
from streamer.power.margins import supply_limit_a
from streamer.soak.findings import Finding, Quiet
from streamer.soak.records import UNNAMED_SUPPLY, EventKind, Sample

LOOK_EACH_S = 1.0
OVER_SHARE = 1.01
"""Of what a supply carries for hours: what holds the light down goes by whole steps of a level."""
OVER_HOLD_S = 5.0

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
        self._limits_a = {supply.name: supply_limit_a(supply) for supply in display.supplies}
        self._over: dict[str, float] = {}
        self._currents: FeedCurrents | None = None
        if any(port.supply or port.node_kind for port in display.ports):
            self._currents = FeedCurrents(tuple(basis_of(display, port) for port in display.ports))
            self._supplies = np.array([feed.supply or UNNAMED_SUPPLY for feed in self._currents.feeds])

    def look(self, now_s: float) -> None:
        """Reckon the currents of the newest frame."""
        if self._currents is None or now_s - self._looked_s < LOOK_EACH_S:
            return
        self._looked_s = now_s
        self._over.clear()
        nodes = self._look_at_frame()
        if nodes is None:
            return
        feed_a = self._currents.idle_a + self._currents.dimmable_a(nodes)
        self._total_a = max(self._total_a or 0.0, float(feed_a.sum()))
        for supply in dict.fromkeys(self._supplies.tolist()):
            amps = float(feed_a[self._supplies == supply].sum())
            self._most_a[supply] = max(self._most_a.get(supply, 0.0), amps)
            if amps > self._limits_a.get(supply, math.inf) * OVER_SHARE:
                self._over[supply] = amps

    def findings(self) -> Sequence[Finding]:
        """Return the supplies of which more is called for than they carry: the engine should see to it."""
        return [
            Finding(EventKind.NOTE, f"supply {name}", self._words(name, amps), hold_s=OVER_HOLD_S)
            for name, amps in self._over.items()
        ]

    def _words(self, supply: str, amps: float) -> str:
        limit_a = self._limits_a[supply]
        return (
            f"frames call for {amps:.2f} A of it, and it carries {limit_a:.2f} A for hours: lower the level"
        )

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
