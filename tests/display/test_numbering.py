"""How numbers are written, against the standards' ranges and worked values."""

import pytest

from streamer.display.model import Addressing, Controller, Port, Protocol, Segment
from streamer.display.numbering import (
    channel_of,
    node_address_text,
    universe_text,
)
from streamer.errors import PlanError


def test_both_numberings_are_shown_for_art_net():
    """Art-Net 4: Port-Address 19 is Net 0, Sub-Net 1, Universe 3 (19 = 0 x 256 + 1 x 16 + 3)."""
    assert universe_text(Protocol.ARTNET, 19) == "Port-Address 19 (0:1:3)"
    assert universe_text(Protocol.E131, 19) == "universe 19"


@pytest.mark.parametrize(
    ("channel", "place"),
    [(1, (1, 1)), (512, (1, 512)), (513, (2, 1)), (4097, (9, 1)), (4200, (9, 104)), (4609, (10, 1))],
)
def test_absolute_channels_count_from_1(channel: int, place: tuple[int, int]):
    """ANSI E1.11: 512 slots a universe; the rest is division."""
    assert channel_of(*place) == channel


@pytest.mark.parametrize("place", [(0, 1), (1, 0), (1, 513)])
def test_there_is_no_universe_0_slot_0_or_slot_513(place: tuple[int, int]):
    """The error says from where to count."""
    with pytest.raises(PlanError, match="slots from 1 to 512"):
        channel_of(*place)


def where(protocol: Protocol, addressing: Addressing, universe: int, place: int) -> str:
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
