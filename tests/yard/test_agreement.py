"""The yard and the patch, which were written apart, agree about every display."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from patterns.plain import Frame
from streamer.display.model import (
    COLOUR_ORDERS,
    MULTICAST,
    Addressing,
    Controller,
    Display,
    Fixture,
    Port,
    Protocol,
    Role,
    Segment,
)
from streamer.display.patch import Patch, compile_patch
from streamer.yard.yard import Yard
from tests.yard.bench import art_dmx, data_packet

ADDRESSES = {
    Protocol.E131: ["127.0.0.1", "127.0.0.2", MULTICAST],
    Protocol.ARTNET: ["127.0.0.1", "127.0.0.3"],
}


@st.composite
def controllers(draw: st.DrawFn, number: int) -> Controller:
    """Return a controller whose strings follow each other with gaps, several in a universe where they fit."""
    protocol = draw(st.sampled_from(Protocol))
    addressing = draw(st.sampled_from(Addressing))
    channel = draw(st.integers(0, 2000))  # over all universes of this controller, from 0
    ports = []
    for count in range(1, draw(st.integers(0, 4)) + 1):
        order = draw(st.sampled_from(sorted(COLOUR_ORDERS)))
        nodes = draw(st.one_of(st.integers(1, 30), st.integers(1, 400)))
        skip = draw(st.sampled_from([0, 0, 1, 7]))
        ports.append(
            Port(
                name=f"c{number}/{count}",
                number=count,
                universe=50 * number + 1 + channel // 512,
                slot=channel % 512 + 1,
                colour_order=order,
                reversed=draw(st.booleans()),
                skip=skip,
                segments=(Segment(nodes=nodes),),
            )
        )
        # Aligned strings waste up to 3 slots a universe, and those before a node that does not fit.
        channel += (nodes + skip) * len(order) + 4 * ((nodes + skip) * len(order) // 508 + 2)
        channel += draw(st.integers(0, 300))
    fixtures = tuple(
        Fixture(
            name=f"f{number}/{n}", universe=50 * number + 40, slot=1 + 4 * n, channels=(Role.DIMMER, Role.RED)
        )
        for n in range(draw(st.integers(0, 2)))
    )
    return Controller(
        name=f"c{number}",
        protocol=protocol,
        address=draw(st.sampled_from(ADDRESSES[protocol])),
        addressing=addressing,
        ports=tuple(ports),
        fixtures=fixtures,
    )


@st.composite
def displays(draw: st.DrawFn) -> Display:
    """Return a display of up to three controllers."""
    count = draw(st.integers(1, 3))
    return Display(name="boathouse", controllers=tuple(draw(controllers(number)) for number in range(count)))


def random_frame(patch: Patch, seed: int) -> Frame:
    """Return a frame in which neighbours differ, white only where there is white."""
    random = np.random.default_rng(seed)
    nodes = random.integers(1, 256, (len(patch.layout.place), 4), np.uint8)
    nodes[~patch.layout.has_white, 3] = 0
    return Frame(nodes, random.integers(1, 256, len(patch.layout.channel_roles), np.uint8))


@pytest.mark.slow
@settings(max_examples=150, deadline=None)
@given(displays(), st.integers(0, 2**32 - 1))
def test_what_the_patch_lays_out_the_yard_shows(display: Display, seed: int):
    """Scattered, sent as packets and received, every frame comes out as it went in."""
    patch = compile_patch(display)
    frame = random_frame(patch, seed)
    slots = np.zeros((len(patch.streams), 512), np.uint8)
    patch.scatter(frame, slots)
    yard = Yard(display)
    for stream, levels in zip(patch.streams, slots, strict=True):
        key = stream.key
        make = data_packet if key.protocol is Protocol.E131 else art_dmx
        destination = "239.255.0.1" if key.address == MULTICAST else key.address
        yard.take(make(key.universe, levels.tobytes()), key.protocol, 0.0, "127.0.0.1", destination)
    seen = yard.seen()
    assert np.array_equal(seen.nodes, frame.nodes)
    assert np.array_equal(seen.channels, frame.channels)
    assert yard.note(0.0) == ""
