"""How numbers are written, against the standards' ranges and worked values."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.display.model import Addressing, Controller, Port, Protocol, Segment
from streamer.display.numbering import (
    channel_of,
    net_text,
    node_address_text,
    port_address_of,
    universe_and_slot_of,
    universe_short,
    universe_text,
)
from streamer.errors import PlanError


def test_both_numberings_are_shown_for_art_net():
    """Art-Net 4: Port-Address 19 is Net 0, Sub-Net 1, Universe 3 (19 = 0 x 256 + 1 x 16 + 3)."""
    assert universe_text(Protocol.ARTNET, 19) == "Port-Address 19 (0:1:3)"
    assert universe_short(Protocol.ARTNET, 19) == "PA19 0:1:3"
    assert universe_text(Protocol.E131, 19) == "universe 19"
    assert universe_short(Protocol.E131, 19) == "U19"


@pytest.mark.parametrize(
    ("text", "number"), [("0:0:0", 0), ("0:1:3", 19), ("1:0:0", 256), ("127:15:15", 32767)]
)
def test_a_port_address_has_seven_four_and_four_bits(text: str, number: int):
    """Art-Net 4, Port-Address: 15 bits, so 127:15:15 is 32767, the last."""
    assert port_address_of(text) == number
    assert net_text(number) == text


@given(st.integers(0, 32767))
def test_a_port_address_is_read_back_as_it_was_written(number: int):
    """The two forms are the same number for all 32,768."""
    assert port_address_of(net_text(number)) == number


@pytest.mark.parametrize(
    "text", ["0:16:0", "128:0:0", "0:0:16", "1:2", "1:2:3:4", "a:b:c", "-1:0:0", "\u0660:0:0"]
)
def test_what_is_no_port_address_is_refused(text: str):
    """Each part has its own range, and only plain digits count."""
    with pytest.raises(ValueError, match=r"Net:Sub-Net:Universe|outside"):
        port_address_of(text)


@pytest.mark.parametrize(
    ("channel", "place"),
    [(1, (1, 1)), (512, (1, 512)), (513, (2, 1)), (4097, (9, 1)), (4200, (9, 104)), (4609, (10, 1))],
)
def test_absolute_channels_count_from_1(channel: int, place: tuple[int, int]):
    """ANSI E1.11: 512 slots a universe; the rest is division."""
    assert universe_and_slot_of(channel) == place
    assert channel_of(*place) == channel


@pytest.mark.parametrize("place", [(0, 1), (1, 0), (1, 513)])
def test_there_is_no_universe_0_slot_0_or_slot_513(place: tuple[int, int]):
    """The error says from where to count."""
    with pytest.raises(PlanError, match="slots from 1 to 512"):
        channel_of(*place)


def test_there_is_no_channel_0():
    """The error says so."""
    with pytest.raises(PlanError, match="Channels count from 1"):
        universe_and_slot_of(0)


def where(protocol: Protocol, addressing: Addressing, universe: int, place: int):
    """Return the address of a node on a plain string of 171 RGB nodes."""
    port = Port(name="j/1", number=1, universe=universe, segments=(Segment(nodes=171),))
    controller = Controller(
        name="j", protocol=protocol, address="127.0.0.1", addressing=addressing, ports=(port,)
    )
    return node_address_text(controller, port, place)


def test_a_whole_node_has_one_run_of_slots():
    """The fifth node has slots 13 to 15."""
    assert where(Protocol.E131, Addressing.ALIGNED, 2, 4) == "universe 2, slots 13-15"


def test_a_split_node_names_both_universes():
    """Node 171, packed: two slots at the end of one, one at the start of the next."""
    assert (
        where(Protocol.E131, Addressing.PACKED, 1, 170) == "universe 1, slots 511-512 and universe 2, slot 1"
    )
    assert (
        where(Protocol.ARTNET, Addressing.PACKED, 19, 170)
        == "Port-Address 19 (0:1:3), slots 511-512 and Port-Address 20 (0:1:4), slot 1"
    )
