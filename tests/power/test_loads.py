"""Loads of a display, what is assumed of it, what is found wrong, and where more power would help."""

import itertools
from typing import Any

import numpy as np
import pytest

from streamer.display.electrics import Drive, NodeKind, Supply, Wire
from streamer.display.model import Display, Segment
from streamer.power.basis import basis_of
from streamer.power.copper import Copper
from streamer.power.findings import Weight, largest_fuse_a
from streamer.power.injection import InjectionAdvice, _Search, advise
from streamer.power.loads import Loads
from streamer.power.network import network_of
from streamer.power.plan import power_plan
from streamer.power.solve import solve
from tests.power.yard_of_strings import AWG_18, Made, injection, lead

WHITE = NodeKind(name="white", volts=5, volts_min=4, full_ma=(18.5, 18.5, 18.5), idle_ma=1)


def of_white_nodes(count: int, **port: Any) -> Display:
    """Return a display of one string of WS2811-class nodes: 18.5 mA a colour and 1 mA idle."""
    made = Made(nodes=count, volts_min=4)
    display = made.display(made.port(**{"node_kind": "white", "colour_order": "RGB", **port}))
    return display.model_copy(update={"node_kinds": (WHITE,)})


@pytest.mark.parametrize(
    ("octets", "amps"),
    [
        ((255, 255, 255, 0), 7.232),
        ((76, 76, 76, 0), 2.2453),
        ((77, 77, 77, 0), 2.2731),
        ((255, 0, 0, 0), 2.496),
        ((0, 0, 0, 255), 0.128),
    ],
)
def test_the_current_of_a_frame_is_the_sum_of_its_octets(octets: tuple[int, ...], amps: float):
    """128 nodes: I = n Iq + the sum of v / 255 x Ic, by hand; an RGB string has no white to draw."""
    frame = np.tile(np.array(octets, np.uint8), (128, 1))
    load = Loads(of_white_nodes(128, injections=(injection(64, 1), injection(128, 1)))).of_frame(frame)
    assert load.ports[0].amps == pytest.approx(amps, abs=1e-4)
    assert load.amps == pytest.approx(amps, abs=1e-4)
    assert load.supply_a == pytest.approx([amps], abs=1e-4)


def test_a_level_is_rounded_down_as_the_engine_rounds_it():
    """30 % is 76 of 255."""
    assert Loads(of_white_nodes(10)).of_white(30).amps == pytest.approx(0.01 + 0.555 * 76 / 255)


def test_nodes_are_counted_as_they_hang_however_the_string_is_fed():
    """Reversed and with two nodes skipped: the first node that hangs is the last on the line, the lowest."""
    (port,) = Loads(of_white_nodes(30, reversed=True, skip=2)).of_white(100).ports
    (plain,) = Loads(of_white_nodes(32)).of_white(100).ports
    assert port.lowest_node == 1
    assert len(port.volts) == 30
    assert port.volts[-1] > port.volts[0] > plain.volts[-1]
    assert port.amps == pytest.approx(30 * 0.0565 + 2 * 0.001)


def test_spacings_come_from_the_segments():
    """Given, measured between its ends, or assumed and told."""
    segments = (
        Segment(nodes=2, spacing_mm=50),
        Segment(nodes=3, start=(0, 0, 0), end=(0, 0.6, 0.8)),
        Segment(nodes=1),
    )
    display = of_white_nodes(6, segments=segments)
    basis = basis_of(display, display.ports[0])
    assert basis.spacings_m == pytest.approx([0.05, 0.05, 0.5, 0.5, 0.5, 0.1])
    assert any("no spacing" in sentence for sentence in basis.assumptions)


def test_everything_that_is_assumed_is_told():
    """A string of which nothing is said has five assumptions, and one of which all is said has none."""
    display = of_white_nodes(6, node_kind=None, supply=None, wire=None, segments=(Segment(nodes=6),))
    said = basis_of(display, display.ports[0]).assumptions
    assert [sentence.partition(":")[0] for sentence in said] == [
        "no node_kind", "no wire", "no spacing", "no supply", "no lead",
    ]  # fmt: skip
    assert sum("common practice, no source" in sentence for sentence in said) == 3
    display = of_white_nodes(6, lead=lead(2))
    assert basis_of(display, display.ports[0]).assumptions == ()


def test_another_supply_cuts_the_positive_and_that_is_told():
    """Positives of two supplies are not joined (common practice, no source), but at the end they must be."""
    made = Made(nodes=20)
    roof = Supply(name="roof", volts=5, amps=9)
    cut, end = injection(10, 2, supply="roof"), injection(20, 2, supply="roof")
    display = made.display(supplies=(roof,), injections=(cut, end), lead=lead(1))
    basis = basis_of(display, display.ports[0])
    assert [feed.is_cut for feed in basis.feeds] == [False, True, False]
    assert len(basis.assumptions) == 2
    load = Loads(display).of_white(100)
    assert load.supply_a == pytest.approx([10 * 0.055, 10 * 0.055])


def test_one_injection_is_put_where_trying_every_node_puts_it():
    """Exhaustively: no single node gives a higher lowest voltage."""
    made = Made(nodes=60, volts_min=4.6)
    display = made.display(lead=lead(1))
    basis = basis_of(display, display.ports[0])
    advice = advise(basis, Copper())
    assert advice is not None
    assert advice.is_enough
    along = 1 + 0.1 * np.arange(1, 61)
    tried = []
    for after in range(1, 61):
        more = made.display(lead=lead(1), injections=(injection(after, float(along[after - 1])),))
        network = network_of([basis_of(more, more.ports[0])], Copper())
        tried.append(solve(network, network.white_a(1.0)).volts.min())
    assert len(advice.after) == 1
    assert advice.leads_m == pytest.approx([along[advice.after[0] - 1]])
    assert advice.lowest_volts == pytest.approx(max(tried), abs=2e-3)


def test_two_injections_are_as_good_as_the_best_pair():
    """Every pair of a string of 40 tried; the search may end a hair below the best."""
    made = Made(nodes=40, ma=60, apart_mm=300)
    display = made.display(lead=lead(0.5))
    points, lowest = _Search(basis_of(display, display.ports[0]), Copper()).best_of(2)
    bases = []
    for pair in itertools.combinations(range(1, 41), 2):
        feeds = tuple(injection(after, 0.5 + 0.3 * after) for after in pair)
        more = made.display(lead=lead(0.5), injections=feeds)
        bases.append(basis_of(more, more.ports[0]))
    network = network_of(bases, Copper())
    volts = solve(network, network.white_a(1.0)).volts.reshape(-1, 40).min(axis=1)
    assert len(points) == 2
    assert lowest == pytest.approx(volts.max(), abs=0.02)


def test_no_advice_is_given_where_none_is_needed():
    """Every node has its minimum."""
    display = Made(nodes=5).display()
    assert advise(basis_of(display, display.ports[0]), Copper()) is None


@pytest.mark.parametrize("nodes", [1_000, 2_000, 10_000])
def test_a_string_far_too_long_settles_between_nothing_and_its_supply(nodes: int):
    """Far from both ends each node has the same share of the voltage before it.

    Starved nodes are conductances g on a line of r, so v(k - 1) + v(k + 1) = (2 + g r) v(k): a difference
    equation whose falling solution shrinks at each node by the smaller root of z + 1/z = 2 + g r.
    """
    made = Made(nodes=nodes, volts_min=4.0)
    network = network_of([basis_of(display := made.display(), display.ports[0])], Copper())
    solution = solve(network, network.white_a(1.0))
    assert solution.is_settled
    assert (solution.volts >= 0).all()
    assert (np.diff(solution.volts) <= 0).all()
    assert solution.volts[0] <= made.volts
    both = 2 + 2 / network.positive_s[1] * made.ma / 1000 / made.volts_min
    root = both / 2 - np.sqrt((both / 2) ** 2 - 1)
    middle = solution.volts[100:200]
    assert middle[1:] / middle[:-1] == pytest.approx(root, rel=1e-6)


def test_wire_that_is_too_thin_for_any_injection_is_told():
    """40 m of 24 AWG at 5 V: the leads are as thin as the string."""
    made = Made(nodes=400, wire=Wire(awg=24), volts_min=4.5)
    display = made.display(lead=lead(20, Wire(awg=24)))
    advice = advise(basis_of(display, display.ports[0]), Copper())
    assert advice is not None
    assert not advice.is_enough
    assert (advice.after, advice.leads_m) == ((), ())
    assert 0 < advice.lowest_volts < 4.5


@pytest.mark.parametrize(
    ("port", "supply", "weight", "place", "words"),
    [
        ({}, {}, Weight.CAUTION, "jetty/1", "at full white node 100 gets"),
        ({"fuse_a": 5}, {}, Weight.CAUTION, "jetty/1", "5 A fuse carries 4.00 A"),
        ({"fuse_a": 2}, {}, Weight.OVER, "jetty/1", "2 A fuse carries 1.60 A"),
        ({"fuse_a": 10}, {}, Weight.CAUTION, "jetty/1", "10 A fuse is large for the 20 AWG wire"),
        ({}, {"amps": 5}, Weight.CAUTION, "shed", "it carries 4.00 A"),
        ({}, {"amps": 30}, Weight.CAUTION, "shed", "100 VA"),
        ({}, {"volts": 48}, Weight.CAUTION, "shed", "above the 30 V for wet places"),
    ],
)
def test_what_is_wrong_is_found(
    port: dict[str, object], supply: dict[str, float], weight: Weight, place: str, words: str
):
    """100 nodes of 56.5 mA: 5.65 A at full white, 1.75 A at 30 %; NEC 210.20(A), 240.4(D), chapter 9."""
    display = of_white_nodes(100, **port)
    shed = display.supplies[0].model_copy(update={"amps": 19, **supply})
    plan = power_plan(display.model_copy(update={"supplies": (shed,)}), 30)
    (found,) = [each for each in plan.findings if words in each.what]
    assert (found.weight, found.place) == (weight, place)
    assert found.instead


def test_current_that_flows_back_into_a_supply_is_found():
    """Two voltages that meet: 5.2 V and 4.8 V."""
    made = Made(nodes=10, ma=5)
    roof = Supply(name="roof", volts=4.8, amps=9)
    back = injection(5, 1, supply="roof", is_positive_cut=False)
    found = power_plan(made.display(supplies=(roof,), injections=(back,), lead=lead(1)), 30).findings
    assert any("flow back into its supply" in each.what for each in found)


def test_a_sound_display_has_nothing_to_find():
    """A short string, a fuse that fits its wire, a supply with room."""
    display = of_white_nodes(20, fuse_a=5, lead=lead(1))
    assert power_plan(display, 30).findings == ()


@pytest.mark.parametrize(
    ("wire", "amps"),
    [
        (Wire(awg=14), 15), (Wire(awg=16), 10), (Wire(awg=18), 7), (Wire(mm2=0.75), 7), (Wire(awg=20), 5),
        (Wire(mm2=0.5), 5), (Wire(awg=22), 3), (Wire(awg=24), None),
    ],
)  # fmt: skip
def test_the_largest_fuse_before_a_wire(wire: Wire, amps: float | None):
    """NEC 240.4(D) from 18 AWG on, from memory; 20 and 22 AWG common practice, no source."""
    assert largest_fuse_a(wire) == amps


def test_a_plan_of_the_present_frame_shows_what_is_drawn_now():
    """Beside the level and full white."""
    display = of_white_nodes(10)
    plan = power_plan(display, 30, np.zeros((10, 4), np.uint8))
    assert plan.now_a == pytest.approx(0.01)
    assert plan.ports[0].now is not None
    assert plan.supplies[0].now_a == pytest.approx(0.01)
    assert plan.level_a < plan.white_a
    assert power_plan(display, 30).now_a is None


def test_strings_that_are_alike_are_searched_once(monkeypatch: pytest.MonkeyPatch):
    """200 of 680 nodes, all starved at full white: one search for where to inject, told of all."""
    made = Made(nodes=680, ma=27, apart_mm=50, wire=AWG_18, volts=12, volts_min=10, drive=Drive.REGULATED)
    display = made.display(*(made.port(number) for number in range(1, 201)))
    searched: list[Any] = []

    def noted(*asked: Any) -> InjectionAdvice | None:
        searched.append(asked)
        return advise(*asked)

    monkeypatch.setattr("streamer.power.plan._known", {})
    monkeypatch.setattr("streamer.power.plan.advise", noted)
    plan = power_plan(display, 30)
    assert len(searched) == 1
    assert {each.advice for each in plan.ports} == {advise(*searched[0])} != {None}
    assert len(plan.ports) == 200
