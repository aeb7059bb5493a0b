"""What a person sees of each fault, against tables computed by hand from how strings are wired."""

from typing import Any

import pytest

from streamer.display.model import Addressing
from streamer.errors import PlanError
from streamer.yard.faults import (
    Break,
    DeadColour,
    DeadNode,
    Fault,
    Flicker,
    Grouped,
    Loss,
    NodeCount,
    OtherAddressing,
    Skipped,
    StuckNode,
    Swapped,
    Turned,
    WrongOrder,
    WrongSlot,
    WrongUniverse,
)
from tests.yard.bench import BLUE, DARK, GREEN, RED, Bench, Node, colours, jetty, port, runs

YELLOW, CYAN, MAGENTA = (255, 255, 0, 0), (0, 255, 255, 0), (255, 0, 255, 0)
RED_AND_WHITE = (255, 0, 0, 255)


def red_jetty(*faults: Fault, nodes: int = 10, **settings: Any) -> Bench:
    """Return a bench with one string filled with red, and the faults on it."""
    bench = Bench(jetty([port(1, nodes, 1, **settings)]))
    bench.set_faults(1, *faults)
    slot = settings.get("slot", 1)
    bench.send(1, [0] * (slot - 1) + colours(nodes, 255, 0, 0))
    return bench


def counted_jetty(*faults: Fault, nodes: int = 6, **settings: Any) -> Bench:
    """Return a bench with one string whose n-th node on the line gets red n; nodes beyond the plan too."""
    bench = Bench(jetty([port(1, nodes, 1, **settings)]))
    bench.set_faults(1, *faults)
    bench.send(1, [level for n in range(1, 41) for level in (n, 0, 0)])
    return bench


def reds(bench: Bench) -> list[int]:
    """Return the red of each planned node."""
    return [node[0] for node in bench.nodes()]


def test_a_healthy_string_shows_what_is_sent():
    """Without a fault every node is red and none is dark."""
    assert runs(red_jetty().nodes()) == [(10, RED)]


@pytest.mark.parametrize("after", [0, 1, 4, 9, 10])
def test_a_break_darkens_all_nodes_beyond_it(after: int):
    """The node before the break is the last that is lit; 0 leaves all dark."""
    nodes = red_jetty(Break(after=after)).nodes()
    assert nodes == [RED] * after + [DARK] * (10 - after)


@pytest.mark.parametrize(
    ("settings", "faults"), [({"reversed": True}, []), ({}, [Turned()])], ids=["reversed", "turned"]
)
def test_a_break_darkens_what_lies_behind_it_as_the_data_runs(settings: dict[str, bool], faults: list[Fault]):
    """On a string fed at its last node, the nodes from the break down to node 1 are dark."""
    nodes = red_jetty(Break(after=4), *faults, **settings).nodes()
    assert nodes == [DARK] * 3 + [RED] * 7


def test_a_line_that_brings_nothing_is_dark_whichever_end_is_fed():
    """A break before the first node on the line lets nothing through to a reversed string either."""
    assert runs(red_jetty(Break(after=0), reversed=True).nodes()) == [(10, DARK)]


def test_a_dead_node_is_dark_alone():
    """Data goes on past a dead node; several may be dead."""
    nodes = red_jetty(DeadNode(node=3), DeadNode(node=10)).nodes()
    assert runs(nodes) == [(2, RED), (1, DARK), (6, RED), (1, DARK)]


def test_a_dead_colour_is_missing_from_one_node_only():
    """White without red is cyan; the nodes beside it stay white."""
    bench = Bench(jetty([port(1, 3, 1)]))
    bench.set_faults(1, DeadColour(node=2, light="red"))
    bench.send(1, colours(3, 255, 255, 255))
    white = (255, 255, 255, 0)
    assert bench.nodes() == [white, CYAN, white]


def test_a_stuck_node_shows_its_colour_whatever_is_sent():
    """Even if nothing is sent to it, and past a break; the data goes on past it."""
    bench = Bench(jetty([port(1, 4, 1)]))
    bench.set_faults(1, StuckNode(node=2, colour="green"))
    assert bench.nodes() == [DARK, GREEN, DARK, DARK]
    bench.send(1, colours(4, 255, 0, 0))
    assert bench.nodes() == [RED, GREEN, RED, RED]


@pytest.mark.parametrize(("by", "seen"), [(1, [3, 4, 5, 6, 7, 0]), (-1, [1, 2, 3, 4, 5, 6])])
def test_more_or_fewer_nodes_before_a_string_shift_it(by: int, seen: list[int]):
    """One node is planned before six: with two the last gets nothing, with none all are one early."""
    assert reds(counted_jetty(Skipped(by=by), skip=1)) == seen


def test_grouped_lights_show_the_same_node():
    """Three act as one: nodes 1 and 2 are spread over six lights (computed)."""
    assert reds(counted_jetty(Grouped(lights=3))) == [1, 1, 1, 2, 2, 2]


@pytest.mark.parametrize(
    ("reversed_", "steady"), [(False, [0, 1, 2]), (True, [3, 4, 5])], ids=["fed at 1", "fed at 6"]
)
def test_a_flickering_string_is_steady_before_the_place_as_the_data_runs(
    *, reversed_: bool, steady: list[int]
):
    """From there on each node is dark now and then, for a quarter of a second, and never for good."""
    bench = Bench(jetty([port(1, 6, 1, reversed=reversed_)]))
    bench.set_faults(1, Flicker(node=3 if reversed_ else 4))
    bench.send(1, colours(6, 255, 0, 0))
    moments = []
    for quarter in range(8):
        bench.yard.expire(bench.now + quarter / 4)
        moments.append(bench.nodes())
    for node in range(6):
        dark = sum(moment[node] == DARK for moment in moments)
        assert dark == (0 if node in steady else 2)


@pytest.mark.parametrize("addressing", list(Addressing))
def test_packed_and_aligned_differ_from_node_171_on(addressing: Addressing):
    """Solid red by 170 nodes, then what the table of a mismatch says (computed).

    Sent packed and received aligned, node 171 on is green; sent aligned and received packed, it is blue.
    """
    bench = Bench(jetty([port(1, 340, 1)], addressing=addressing))
    bench.set_faults(1, OtherAddressing())
    red = colours(400, 255, 0, 0)
    if addressing is Addressing.PACKED:
        bench.send(1, red[:512])
        bench.send(2, red[512:1024])
        assert runs(bench.nodes()) == [(170, RED), (170, GREEN)]
    else:
        bench.send(1, red[:510])
        bench.send(2, red[:510])
        assert runs(bench.nodes()) == [(170, RED), (170, BLUE)]


TRUTH = [
    ("RGB", [RED, GREEN, BLUE], [YELLOW, CYAN, MAGENTA]),
    ("RBG", [RED, BLUE, GREEN], [MAGENTA, CYAN, YELLOW]),
    ("GRB", [GREEN, RED, BLUE], [YELLOW, MAGENTA, CYAN]),
    ("GBR", [GREEN, BLUE, RED], [CYAN, MAGENTA, YELLOW]),
    ("BRG", [BLUE, RED, GREEN], [MAGENTA, YELLOW, CYAN]),
    ("BGR", [BLUE, GREEN, RED], [CYAN, YELLOW, MAGENTA]),
]
"""By the nodes' true order: what the primaries, then the mixed colours, sent as RGB, look like; computed."""


@pytest.mark.parametrize(("order", "primaries", "mixed"), TRUTH, ids=[row[0] for row in TRUTH])
def test_nodes_of_another_colour_order_show_other_colours(
    order: str, primaries: list[Node], mixed: list[Node]
):
    """All six rows of the table of colour orders."""
    bench = Bench(jetty([port(1, 6, 1)]))
    bench.set_faults(1, WrongOrder(colour_order=order))
    bench.send(1, [255, 0, 0, 0, 255, 0, 0, 0, 255, 255, 255, 0, 0, 255, 255, 255, 0, 255])
    assert bench.nodes() == primaries + mixed


def test_rgb_data_on_rgbw_nodes_repeats_every_three_nodes():
    """Solid red becomes red with white, blue, green (computed: four octets are taken for three)."""
    nodes = red_jetty(WrongOrder(colour_order="RGBW"), nodes=12).nodes()
    assert nodes[:9] == [RED_AND_WHITE, BLUE, GREEN] * 3
    assert nodes[9:] == [DARK] * 3, "36 octets are enough for nine nodes of four"


def test_rgbw_data_on_rgb_nodes_repeats_every_four_nodes():
    """Solid red becomes red, green, blue, dark (computed: three octets are taken where four are sent)."""
    bench = Bench(jetty([port(1, 12, 1, colour_order="RGBW")]))
    bench.set_faults(1, WrongOrder(colour_order="RGB"))
    bench.send(1, colours(12, 255, 0, 0, 0))
    assert bench.nodes() == [RED, GREEN, BLUE, DARK] * 3


def test_a_start_one_slot_late_looks_like_another_order_except_at_the_last_node():
    """Red as blue, green as red, blue as green, as BRG shows; only the last node gives it away (computed)."""
    nodes = red_jetty(WrongSlot(by=1)).nodes()
    assert runs(nodes) == [(9, BLUE), (1, DARK)]
    bench = Bench(jetty([port(1, 10, 1)]))
    bench.set_faults(1, WrongSlot(by=1))
    bench.send(1, colours(10, 0, 255, 0))
    assert runs(bench.nodes()) == [(10, RED)]
    bench.send(1, colours(10, 0, 0, 255))
    assert runs(bench.nodes()) == [(10, GREEN)]


@pytest.mark.parametrize("slot", [1, 7])
def test_a_start_one_slot_early_looks_like_another_order(slot: int):
    """Red as green, as the order GBR shows (computed); at slot 1 the octet before it is the START code, 0."""
    assert runs(red_jetty(WrongSlot(by=-1), slot=slot).nodes()) == [(10, GREEN)]


def test_a_start_one_slot_early_drops_the_last_octet_of_the_string():
    """Blue as red, and the first node is dark, because its blue goes to the second (computed)."""
    bench = Bench(jetty([port(1, 4, 1)]))
    bench.set_faults(1, WrongSlot(by=-1))
    bench.send(1, colours(4, 0, 0, 255))
    assert bench.nodes() == [DARK, RED, RED, RED]


def test_a_start_one_node_late_shifts_the_picture_by_one_node():
    """Three slots of RGB are one node."""
    assert reds(counted_jetty(WrongSlot(by=3))) == [2, 3, 4, 5, 6, 7]


def test_a_port_set_to_another_universe_shows_what_is_sent_there():
    """With the universe off by one, the planned universe is not shown and its neighbour is."""
    bench = red_jetty(WrongUniverse(by=1))
    assert runs(bench.nodes()) == [(10, DARK)]
    bench.send(2, colours(10, 0, 0, 255))
    assert runs(bench.nodes()) == [(10, BLUE)]


def test_a_turned_string_shows_the_picture_backwards():
    """Node 1 shows what was meant for the last."""
    assert reds(counted_jetty(Turned())) == [6, 5, 4, 3, 2, 1]


def test_a_turned_string_that_was_planned_reversed_runs_forwards():
    """Two turns are none."""
    assert reds(counted_jetty(reversed=True)) == [6, 5, 4, 3, 2, 1]
    assert reds(counted_jetty(Turned(), reversed=True)) == [1, 2, 3, 4, 5, 6]


def test_skipped_nodes_take_their_slots_and_are_not_of_the_string():
    """With two nodes skipped, node 1 shows the slots of the third on the line."""
    assert reds(counted_jetty(skip=2)) == [3, 4, 5, 6, 7, 8]


def test_a_string_with_fewer_nodes_ends_early():
    """The missing nodes are dark in the plan's picture, and nothing is lit beyond it."""
    bench = counted_jetty(NodeCount(nodes=4))
    assert reds(bench) == [1, 2, 3, 4, 0, 0]
    assert (bench.seen().lit, bench.seen().beyond) == (4, 0)


def test_a_string_with_more_nodes_is_lit_beyond_the_plan():
    """Extra nodes show the slots that follow, and are counted apart."""
    bench = counted_jetty(NodeCount(nodes=9))
    assert reds(bench) == [1, 2, 3, 4, 5, 6]
    assert (bench.seen().lit, bench.seen().beyond) == (6, 3)
    assert bench.yard.shown("jetty/1")[:, 0].tolist() == list(range(1, 10))


def test_a_shorter_string_fed_at_its_end_misses_the_first_slots_nodes_last():
    """The fed end takes the first slots whatever the count: node 4 of 4 shows what node 6 of 6 should."""
    assert reds(counted_jetty(NodeCount(nodes=4), reversed=True)) == [4, 3, 2, 1, 0, 0]


def test_swapped_strings_show_each_others_data():
    """What port 1 puts out is seen on the string of port 2, and the other way round."""
    bench = Bench(jetty([port(1, 5, 1), port(2, 3, 2, reversed=True)]))
    bench.set_faults(1, Swapped(port="jetty/2"))
    bench.send(1, [1, 0, 0, 2, 0, 0, 3, 0, 0, 4, 0, 0, 5, 0, 0])
    bench.send(2, [0, 1, 0, 0, 2, 0, 0, 3, 0])
    assert [node[1] for node in bench.nodes(1)] == [1, 2, 3, 0, 0], "port 2 drives only three nodes"
    assert [node[0] for node in bench.nodes(2)] == [3, 2, 1], "its own wiring stays with the string"


def test_faults_of_the_string_move_with_it_and_those_of_the_controller_stay():
    """A break on string 1 is seen there; a wrong universe of port 1 is seen on string 2."""
    bench = Bench(jetty([port(1, 4, 1), port(2, 4, 2)]))
    bench.set_faults(1, Swapped(port="jetty/2"), Break(after=2), WrongUniverse(by=5))
    bench.send(1, colours(4, 255, 0, 0))
    bench.send(2, colours(4, 0, 255, 0))
    bench.send(6, colours(4, 0, 0, 255))
    assert bench.nodes(1) == [GREEN, GREEN, DARK, DARK]
    assert bench.nodes(2) == [BLUE] * 4


def test_a_swap_is_a_fault_of_both_ports_and_ends_with_either():
    """Both name it; making the other port healthy undoes it."""
    bench = Bench(jetty([port(1, 2, 1), port(2, 2, 2), port(3, 2, 3)]))
    bench.set_faults(1, Swapped(port="jetty/2"))
    assert [bench.seen(n).faults for n in (1, 2, 3)] == [
        ("swapped with jetty/2",),
        ("swapped with jetty/1",),
        (),
    ]
    bench.set_faults(1, Swapped(port="jetty/3"))
    assert [bench.seen(n).faults for n in (1, 2, 3)] == [
        ("swapped with jetty/3",),
        (),
        ("swapped with jetty/1",),
    ]
    bench.set_faults(3)
    assert [bench.seen(n).faults for n in (1, 2, 3)] == [(), (), ()]


def test_a_port_cannot_be_swapped_with_two_others():
    """The second swap is refused, names both, and changes nothing."""
    bench = Bench(jetty([port(1, 2, 1), port(2, 2, 2), port(3, 2, 3)]))
    bench.set_faults(1, Swapped(port="jetty/2"))
    with pytest.raises(PlanError, match="jetty/2 is swapped with jetty/1 already"):
        bench.set_faults(3, Swapped(port="jetty/2"))
    assert bench.seen(3).faults == ()


@pytest.mark.parametrize(("percent", "least", "most"), [(0, 1000, 1000), (5, 920, 980), (100, 0, 0)])
def test_the_share_of_packets_that_is_asked_for_gets_lost(percent: float, least: int, most: int):
    """Of 1000 packets; the bounds are four standard deviations of a binomial draw for 5 %: 950 +- 28."""
    bench = Bench(jetty([port(1, 1, 1)]))
    bench.set_faults(1, Loss(percent=percent))
    for _ in range(1000):
        bench.send(1, [1, 2, 3])
    seen = bench.seen()
    assert least <= seen.packets <= most
    if 0 < seen.packets < 1000:
        assert 0 <= 1000 - seen.packets - seen.lost <= 3, (
            "all but those at the ends are missed by their sequence"
        )


def test_the_same_packets_are_lost_every_time():
    """The draw is seeded."""
    counts = []
    for _ in range(2):
        bench = Bench(jetty([port(1, 1, 1)]))
        bench.set_faults(1, Loss(percent=50))
        for level in range(100):
            bench.send(1, [level, 0, 0])
            counts.append(bench.nodes()[0])
    assert counts[:100] == counts[100:]


def send_channels(bench: Bench, octets: list[int]) -> None:
    """Send octets in packed universes from 1 on, 512 each."""
    for first in range(0, len(octets), 512):
        bench.send(1 + first // 512, octets[first : first + 512])


def test_packed_data_on_an_aligned_port_changes_colour_with_each_universe():
    """Solid red of 680 nodes: 170 red, 170 green, 170 blue, 170 red (computed: 512 = 3 x 170 + 2)."""
    bench = Bench(jetty([port(1, 680, 1)], addressing=Addressing.ALIGNED))
    send_channels(bench, colours(700, 255, 0, 0))
    assert runs(bench.nodes()) == [(170, RED), (170, GREEN), (170, BLUE), (170, RED)]


def test_aligned_data_on_a_packed_port_changes_colour_with_each_universe():
    """Solid red of 682 nodes: 170 red, 170 blue, 1 dark, 170 green, 1 dark, 170 red (computed)."""
    bench = Bench(jetty([port(1, 682, 1)], addressing=Addressing.PACKED))
    for universe in range(1, 6):
        bench.send(universe, colours(170, 255, 0, 0))
    assert runs(bench.nodes()) == [(170, RED), (170, BLUE), (1, DARK), (170, GREEN), (1, DARK), (170, RED)]


def test_node_171_lies_where_the_addressing_says():
    """Packed it takes (1, 511), (1, 512), (2, 1); aligned (2, 1) to (2, 3) (computed)."""
    for addressing, expected in [(Addressing.PACKED, (11, 12, 21)), (Addressing.ALIGNED, (21, 22, 23))]:
        bench = Bench(jetty([port(1, 171, 1)], addressing=addressing))
        bench.send(1, [0] * 510 + [11, 12])
        bench.send(2, [21, 22, 23])
        assert bench.nodes()[170][:3] == expected
