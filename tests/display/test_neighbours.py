"""The universes next to the planned ones."""

import pytest

from streamer.display.layout import layout_of
from streamer.display.model import Controller, Display, Port, Protocol, Segment
from streamer.display.neighbours import neighbours
from streamer.display.numbering import universe_text
from streamer.display.patch import compile_patch
from streamer.display.ranges import display_from_ranges
from streamer.display.sample import sample_display
from streamer.errors import PlanError


def added(display: Display) -> list[str]:
    """Return the names of the ports that were added."""
    return [port.name for port in neighbours(display).ports if port.neighbour]


def test_each_planned_universe_gets_the_neighbours_it_lacks():
    """The sample plans 11 to 14 and Port-Addresses 37 and 38; a gap of one is filled once."""
    assert added(sample_display()) == ["boathouse/u10", "boathouse/u15", "lake/pa36", "lake/pa39"]
    gaps = display_from_ranges((3, 5, 9), Protocol.E131, ("127.0.0.1",))
    assert added(gaps) == [f"127.0.0.1/u{universe}" for universe in (2, 4, 6, 8, 10)]


@pytest.mark.parametrize(
    ("protocol", "universes", "names"),
    [
        (Protocol.E131, (1, 63999), ["127.0.0.1/u2", "127.0.0.1/u63998"]),
        (Protocol.ARTNET, (0, 32767), ["127.0.0.1/pa1", "127.0.0.1/pa32766"]),
    ],
)
def test_there_is_no_neighbour_past_either_end(
    protocol: Protocol, universes: tuple[int, ...], names: list[str]
):
    """E1.31 ends at 1 and 63999 (clause 6.2.7), Art-Net at 0 and 32767."""
    assert added(display_from_ranges(universes, protocol, ("127.0.0.1",))) == names


def test_neighbours_are_170_rgb_nodes_after_the_planned_ports():
    """They can be told apart in the layout, and each is a stream of its own."""
    wide = neighbours(sample_display())
    layout = layout_of(wide)
    assert layout.is_neighbour.tolist() == [False] * 5 + [True] * 2 + [False] * 3 + [True] * 2
    assert set(layout.string_lengths[layout.is_neighbour].tolist()) == {170}
    assert len(compile_patch(wide).streams) == len(compile_patch(sample_display()).streams) + 4


def test_another_controllers_universe_at_the_same_address_is_planned():
    """Universe 2 belongs to the shed, so the jetty does not take it."""
    plan = display_from_ranges((1,), Protocol.E131, ("127.0.0.1",)).controllers[0]
    shed = display_from_ranges((2,), Protocol.E131, ("127.0.0.1",)).controllers[0]
    both = Display(name="b", controllers=(plan, shed.model_copy(update={"name": "shed"})))
    assert added(both) == ["shed/u3"]


def test_short_packets_hold_fewer_nodes():
    """30 slots hold 10 RGB nodes; 2 slots hold none, so there is no neighbour."""
    ten = Port(name="j/1", number=1, universe=5, segments=(Segment(nodes=10),))
    short = Controller(name="j", protocol=Protocol.E131, address="127.0.0.1", slots=30, ports=(ten,))
    wide = neighbours(Display(name="short", controllers=(short,)))
    assert [port.nodes for port in wide.ports] == [10, 10, 10]
    assert added(Display(name="s", controllers=(short.model_copy(update={"slots": 2}),))) == []


def test_too_many_neighbours_are_refused():
    """4,000 universes two apart would have 4,001 neighbours; the limit bounds memory."""
    many = display_from_ranges(tuple(range(2, 8002, 2)), Protocol.E131, ("127.0.0.1",))
    with pytest.raises(PlanError, match="Probe fewer"):
        neighbours(many)


def test_the_layout_tells_each_universe_in_the_words_of_its_protocol():
    """Art-Net 4, Port-Address: both numberings; a number that both protocols use is told as both."""
    display = sample_display()
    e131 = next(controller for controller in display.controllers if controller.protocol is Protocol.E131)
    artnet = next(controller for controller in display.controllers if controller.protocol is Protocol.ARTNET)
    number = artnet.ports[0].universe
    twin = e131.model_copy(update={"ports": (e131.ports[0].model_copy(update={"universe": number}),)})
    texts = layout_of(display.model_copy(update={"controllers": (twin, artnet)})).universe_texts
    assert texts[number] == f"universe {number} and {universe_text(Protocol.ARTNET, number)}"
    assert texts[number + 1] == universe_text(Protocol.ARTNET, number + 1)
