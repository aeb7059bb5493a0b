"""Frames written into packets: the strided way, the single way, and the patch's own plain way agree."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from patterns.plain import Frame
from streamer.display.model import Addressing, Controller, Display, Fixture, Port, Protocol, Role, Segment
from streamer.display.patch import Patch, compile_patch
from streamer.engine.difference import EVERY, differing_nodes
from streamer.engine.scatter import Scatter

HEADER = 126
LENGTH = HEADER + 512


class Matrix:
    """The packets of some streams of a patch, every one if none are named, their headers empty."""

    def __init__(self, patch: Patch, streams: np.ndarray | None = None) -> None:
        streams = np.arange(len(patch.streams)) if streams is None else streams
        flat = np.zeros(len(streams) * LENGTH + 1, np.uint8)
        self.packets = flat[:-1].reshape(len(streams), LENGTH)
        rows = np.full(len(patch.streams), -1, np.intp)
        rows[streams] = np.arange(len(streams))
        self.scatter = Scatter(patch, rows, flat, self.packets, HEADER)

    @property
    def slots(self) -> np.ndarray:
        """What the packets carry."""
        return self.packets[:, HEADER:]


def strings(count: int, nodes: int, order: str = "RGB", **more: Any) -> Display:
    """Return a display of equal strings, a universe each where they fit."""
    per_string = -(-nodes * len(order) // 512)
    ports = tuple(
        Port(
            name=f"jetty/{i + 1}",
            number=i + 1,
            universe=1 + i * per_string,
            colour_order=order,
            segments=(Segment(nodes=nodes),),
            **more,
        )
        for i in range(count)
    )
    controller = Controller(name="jetty", protocol=Protocol.E131, address="127.0.0.1", ports=ports)
    return Display(name="jetty", controllers=(controller,))


@st.composite
def displays(draw: st.DrawFn) -> Display:
    """Draw ports of any order, direction and start on universes of their own, and a fixture."""
    orders = st.sampled_from(["RGB", "GRB", "BGR", "RGBW", "WGRB"])
    ports = tuple(
        Port(
            name=f"jetty/{i + 1}",
            number=i + 1,
            universe=1 + 20 * i,
            slot=draw(st.integers(1, 400)),
            colour_order=draw(orders),
            reversed=draw(st.booleans()),
            skip=draw(st.integers(0, 3)),
            segments=(Segment(nodes=draw(st.integers(1, 400))),),
        )
        for i in range(draw(st.integers(1, 5)))
    )
    flood = Fixture(name="flood", universe=1000, slot=5, channels=(Role.DIMMER, Role.RED))
    jetty = Controller(
        name="jetty",
        protocol=Protocol.E131,
        address="127.0.0.1",
        ports=ports,
        fixtures=(flood,),
        addressing=draw(st.sampled_from(Addressing)),
    )
    return Display(name="jetty", controllers=(jetty,))


@given(displays(), st.integers(0, 2**32 - 1))
def test_every_way_of_writing_agrees_with_the_patch(display: Display, seed: int):
    """Oracle: `Patch.scatter`, plain fancy indexing. First a whole frame, then one with a few changes."""
    patch, random = compile_patch(display), np.random.default_rng(seed)
    every = np.arange(len(patch.streams))
    halves = [(Matrix(patch, half), half) for half in (every[::2], every[1::2]) if len(half)]
    expected = np.zeros((len(patch.streams), 512), np.uint8)
    before = Frame(np.zeros_like(patch.layout.dark().nodes), patch.layout.dark().channels)
    for share in (1.0, 0.05, 0.5):
        chosen = random.random(len(before.nodes)) < share
        nodes = np.where(chosen[:, None], random.integers(0, 256, before.nodes.shape), before.nodes)
        frame = Frame(nodes.astype(np.uint8), random.integers(0, 256, 2).astype(np.uint8))
        was = expected.copy()
        patch.scatter(frame, expected)
        for matrix, half in halves:
            changed = matrix.scatter.write(frame, differing_nodes(frame.nodes, before.nodes))
            assert np.array_equal(matrix.slots, expected[half])
            assert np.array_equal(changed, (expected != was).any(axis=1)[half])
        before = frame


@pytest.mark.parametrize(
    ("display", "blocks"),
    [
        (strings(1000, 170), 1),
        (strings(1000, 128, "RGBW"), 1),
        (strings(300, 170, "GRB", reversed=True), 1),
        (strings(50, 510), 1),
    ],
)
def test_a_thousand_equal_strings_are_one_strided_copy(display: Display, blocks: int):
    """Not an index for every component, which costs seven times as much."""
    scatter = Matrix(compile_patch(display)).scatter
    assert len(scatter._blocks) == blocks
    assert not len(scatter._rest)


def test_headers_are_never_written():
    """Whatever the frame, octets 0 to 125 stay as they were laid out."""
    patch = compile_patch(strings(3, 100, reversed=True, skip=2))
    matrix = Matrix(patch)
    matrix.scatter.write(Frame(np.full((300, 4), 255, np.uint8), np.zeros(0, np.uint8)), EVERY)
    assert not matrix.packets[:, :HEADER].any()
