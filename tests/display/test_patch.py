"""The patch against a loop that looks every node up, and back again."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from patterns.plain import Frame
from streamer.display.model import (
    COLOUR_ORDERS,
    Addressing,
    Controller,
    Display,
    Fixture,
    Port,
    Protocol,
    Role,
    Segment,
)
from streamer.display.numbering import channel_of
from streamer.display.patch import Patch, compile_patch
from streamer.display.slots import slots_of_string


def frame_of(patch: Patch, seed: int) -> Frame:
    """Return a frame of random octets that only uses the components a node has."""
    random = np.random.default_rng(seed)
    nodes = random.integers(1, 256, (len(patch.layout.place), 4), np.uint8)
    nodes[~patch.layout.has_white, 3] = 0
    return Frame(nodes, random.integers(1, 256, len(patch.layout.channel_roles), np.uint8))


@st.composite
def displays(draw: st.DrawFn) -> Display:
    """Strings of any kind, far enough apart not to overlap, and a fixture."""
    ports = tuple(
        Port(
            name=f"jetty/{number}",
            number=number,
            universe=10 * number,
            slot=draw(st.integers(1, 500)),
            colour_order=draw(st.sampled_from(sorted(COLOUR_ORDERS))),
            reversed=draw(st.booleans()),
            skip=draw(st.integers(0, 100)),
            segments=tuple(
                Segment(nodes=n) for n in draw(st.lists(st.integers(1, 300), min_size=1, max_size=3))
            ),
        )
        for number in range(1, draw(st.integers(0, 4)) + 1)
    )
    fixture = Fixture(
        name="Flood", universe=1, slot=draw(st.integers(1, 510)), channels=(Role.DIMMER, Role.RED)
    )
    fixtures = (fixture,) if draw(st.booleans()) or not ports else ()
    controller = Controller(
        name="jetty",
        protocol=Protocol.E131,
        address="127.0.0.1",
        addressing=draw(st.sampled_from(Addressing)),
        ports=ports,
        fixtures=fixtures,
    )
    return Display(name="Any", controllers=(controller,))


@settings(max_examples=60)
@given(displays(), st.integers(0, 1000))
def test_a_frame_comes_back_from_its_slots_unchanged(display: Display, seed: int):
    """Looked up slot by slot again it is the same, and a frame touches no slot twice."""
    patch = compile_patch(display)
    frame = frame_of(patch, seed)
    slots = np.zeros((len(patch.streams), 512), np.uint8)
    patch.scatter(frame, slots)
    back = np.zeros_like(frame.nodes)
    back.reshape(-1)[patch.node_components] = slots[patch.node_streams, patch.node_slots]
    assert np.array_equal(back, frame.nodes)
    assert np.array_equal(slots[patch.channel_streams, patch.channel_slots], frame.channels)
    lit = np.count_nonzero(frame.nodes) + len(frame.channels)
    assert np.count_nonzero(slots) == lit


@settings(max_examples=30)
@given(displays(), st.integers(0, 1000))
def test_every_component_lands_in_the_slot_of_its_colour(display: Display, seed: int):
    """The patch agrees with a loop over controllers, ports, nodes and colours."""
    patch = compile_patch(display)
    frame = frame_of(patch, seed)
    slots = np.zeros((len(patch.streams), 512), np.uint8)
    patch.scatter(frame, slots)
    sent = {stream.key.universe: slots[row] for row, stream in enumerate(patch.streams)}
    nodes = iter(frame.nodes)
    for port in display.ports:
        universe, slot = slots_of_string(display.controllers[0], port)
        for place in range(port.nodes):
            value = dict(zip("RGBW", next(nodes), strict=True))
            for index, colour in enumerate(port.colour_order):
                assert sent[universe[place, index]][slot[place, index]] == value[colour]


def test_twelve_dmx_channels_after_4096_start_at_channel_4097():
    """Common practice, no source: 8 full universes are channels 1 to 4,096; 4,097 is (9, 1)."""
    channels = (Role.DIMMER, Role.RED, Role.GREEN, Role.BLUE) * 3
    fixture = Fixture(name="Flood", universe=9, slot=1, channels=channels)
    controller = Controller(name="jetty", protocol=Protocol.E131, address="127.0.0.1", fixtures=(fixture,))
    patch = compile_patch(Display(name="Floods", controllers=(controller,)))
    numbers = [
        channel_of(patch.streams[row].key.universe, slot + 1)
        for row, slot in zip(patch.channel_streams, patch.channel_slots.tolist(), strict=True)
    ]
    assert numbers == list(range(4097, 4109))


def test_a_universe_of_nothing_but_skipped_nodes_is_sent_dark():
    """Otherwise the skipped nodes would keep whatever they last showed."""
    port = Port(name="j/1", number=1, universe=5, slot=508, skip=1, segments=(Segment(nodes=3),))
    controller = Controller(name="j", protocol=Protocol.E131, address="127.0.0.1", ports=(port,))
    patch = compile_patch(Display(name="Skip", controllers=(controller,)))
    assert [stream.key.universe for stream in patch.streams] == [5, 6]
    assert 0 not in patch.node_streams
