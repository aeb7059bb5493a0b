"""What every frame passes before it is sent: the level, and the ports that are chosen."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from patterns.plain import COMPONENTS, Bytes, Frame, Layout, Lit
from streamer.display.places import plain
from streamer.engine.difference import (
    EVERY,
    Chosen,
    differing_nodes,
    either,
    picked,
    put_back,
    words_of,
)
from streamer.engine.totals import Totals, highest_of, sums_of
from streamer.errors import PlanError, Problem

FULL = 255
COLOURS = frozenset({"red", "green", "blue", "white", "amber", "uv"})


class Brief(NamedTuple):
    """A picture in short, as it may be sent."""

    lit: Lit
    totals: Totals


class Limits:
    """Scales frames of a layout to a level, with only some strings lit; PlanError for a port not in it."""

    def __init__(self, layout: Layout, level_percent: float, ports: tuple[str, ...] | None) -> None:
        # Rounded down: a level that stands for a limit of current may not be passed by rounding.
        self._table = np.floor(np.arange(FULL + 1) * level_percent / 100).astype(np.uint8)
        self._octets = self._table.tobytes()
        self._layout = layout
        self._scaled = _scaled_channels(layout)
        self._is_unlit = _unlit_nodes(layout, ports)
        self._unlit = np.flatnonzero(self._is_unlit)
        self._given: Bytes | None = None
        self._lit: Lit | None = None
        """What was given last, in full or in short; in short, as it is shown."""
        self.altered: Chosen = EVERY
        """The only nodes in which the frame that `apply` returned last may differ from the one before."""
        self.totals: Totals | None = None
        """Of that frame, where they are known."""
        self._no_channels: Bytes = np.zeros(len(layout.channel_roles), np.uint8)
        self._marks = np.zeros(len(layout.place), np.bool_)
        self._limited: Bytes = np.zeros((len(layout.place), COMPONENTS), np.uint8)

    def apply(self, picture: Frame | Lit) -> Frame:
        """Return a picture as it may be sent. What is given is left alone; what is returned is used again."""
        return self._draw(picture) if isinstance(picture, Lit) else self._apply(picture)

    def _apply(self, frame: Frame) -> Frame:
        self.altered = nodes = EVERY if self._given is None else differing_nodes(frame.nodes, self._given)
        scaled = self._scale(picked(frame.nodes, nodes))
        if isinstance(nodes, slice):
            self._limited = scaled
            if len(self._unlit):
                self._limited[self._unlit] = 0
        else:
            put_back(self._limited, nodes, scaled)
            self._limited[nodes[self._is_unlit[nodes]]] = 0
        self._given, self._lit, self.totals = frame.nodes, None, None
        return Frame(self._limited, self._scale_channels(frame.channels))

    def _draw(self, lit: Lit) -> Frame:
        before, lit = self._lit, self._as_shown(lit)
        if before and before.rest.tobytes() == lit.rest.tobytes():
            words = words_of(self._limited)
            words[before.nodes] = lit.rest.view(np.uint32)
            words[lit.nodes] = words_of(lit.values)
            self.altered = either(lit.nodes, before.nodes, self._marks)
        else:
            self._limited = self.draw(lit)
            self.altered = EVERY
        self._given, self._lit, self.totals = None, lit, self._totals_of(lit)
        return Frame(self._limited, self._no_channels)

    def draw(self, lit: Lit) -> Bytes:
        """Return all nodes, (N, 4), of a picture that is as it is shown."""
        nodes = self._layout.draw(lit).nodes
        nodes[self._unlit] = 0
        return nodes

    def _totals_of(self, lit: Lit) -> Totals:
        """Return what a picture comes to that is as it is shown."""
        few = len(lit.nodes)
        others = len(self._marks) - len(self._unlit) - few
        of_few = lit.values[0].astype(np.int64) * few if len(lit.values) == 1 else sums_of(lit.values)
        highest = max(highest_of(lit.rest) if others else 0, highest_of(lit.values) if few else 0)
        return Totals(lit.rest * np.int64(others) + of_few, highest)

    def _as_shown(self, lit: Lit) -> Lit:
        rest, values = self._scale(lit.rest).reshape(-1), self._scale(lit.values)
        if not len(self._unlit):
            return Lit(rest, lit.nodes, values)
        is_lit = ~self._is_unlit[lit.nodes]
        return Lit(rest, lit.nodes[is_lit], values if len(values) == 1 else values[is_lit])

    def brief(self, lit: Lit) -> Brief:
        """Return a picture in short as it may be sent, made anew."""
        shown = self._as_shown(lit)
        return Brief(shown, self._totals_of(shown))

    def applied(self, frame: Frame) -> Frame:
        """Return the frame as it may be sent, made anew."""
        scaled = self._scale(frame.nodes)
        if len(self._unlit):
            scaled[self._unlit] = 0
        return Frame(scaled, self._scale_channels(frame.channels))

    def _scale_channels(self, channels: Bytes) -> Bytes:
        return np.where(self._scaled, self._table[channels], channels) if len(channels) else channels

    def _scale(self, nodes: Bytes) -> Bytes:
        # NumPy would make a wide index of every octet first.
        octets = bytearray(np.ascontiguousarray(nodes)).translate(self._octets)
        return np.frombuffer(octets, np.uint8).reshape(-1, COMPONENTS)


def _unlit_nodes(layout: Layout, ports: tuple[str, ...] | None) -> NDArray[np.bool_]:
    """Say which nodes are on no chosen port; those of neighbouring universes are always lit."""
    if ports is None:
        return np.zeros(len(layout.place), np.bool_)
    unknown = sorted(frozenset(ports).difference(layout.string_names))
    if unknown:
        what = f"there is no port {plain(unknown[0])}"
        raise PlanError([Problem("ports", what, "Name ports as the display does: controller/number")])
    chosen = np.array([name in ports for name in layout.string_names], np.bool_) | layout.is_neighbour
    return np.asarray(~chosen[layout.string_of_node])


def _scaled_channels(layout: Layout) -> NDArray[np.bool_]:
    """Say which channels carry brightness: a fixture's dimmer, or its colours where it has none.

    Scaling both would square the level; scaling a strobe or a pan channel would change what it does.
    """
    roles = layout.channel_roles
    dimmed = {int(layout.fixture_of_channel[i]) for i, role in enumerate(roles) if role == "dimmer"}
    return np.array(
        [
            role == "dimmer" or (role in COLOURS and int(layout.fixture_of_channel[i]) not in dimmed)
            for i, role in enumerate(roles)
        ],
        np.bool_,
    )
