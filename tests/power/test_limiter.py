"""The limiter of currents: no frame passes a limit, and nothing is dimmed without need.

Sources, where a test names no other: a fuse or supply carries 80 % of its rating for hours (NEC 210.20(A),
215.3; for supplies common practice, no source); a WS2811 output sinks 18.5 mA a colour (its datasheet, from
memory); 1 mA idle is common practice, no source; currents at a point add up (Kirchhoff's current law). Other
figures are invented, and what follows from them was worked out by hand. What it costs: tests/bench/stages.py.
"""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from streamer.display.electrics import Drive, NodeKind, Supply, Wire
from streamer.display.model import Controller, Display, Port, Protocol, Segment
from streamer.power.limiter import CurrentLimiter
from streamer.power.loads import Loads
from streamer.power.margins import fuse_limit_a, supply_limit_a
from tests.power.yard_of_strings import injection

KIND = NodeKind(name="made", volts=5, volts_min=4.5, full_ma=(18.5, 18.5, 18.5), idle_ma=1)
KINDS = (
    KIND,
    NodeKind(name="bulbs", drive=Drive.RESISTIVE, volts=5, volts_min=4, full_ma=(30, 20, 10, 5), idle_ma=0),
    NodeKind(name="bucks", drive=Drive.REGULATED, volts=5, volts_min=4, full_ma=(9, 9, 9, 9), idle_ma=2),
)


def string(number: int, nodes: int, **more: Any) -> Port:
    """Return a port of nodes 5 cm apart."""
    segments = (Segment(nodes=nodes, spacing_mm=50),)
    return Port(
        **{
            "name": f"jetty/{number}",
            "number": number,
            "universe": number,
            "segments": segments,
            "node_kind": "made",
            **more,
        }
    )


def display_of(ports: list[Port], *supplies: Supply) -> Display:
    """Return a display of one controller."""
    jetty = Controller(name="jetty", protocol=Protocol.E131, address="127.0.0.1", ports=tuple(ports))
    return Display(name="boathouse", controllers=(jetty,), supplies=supplies, node_kinds=KINDS)


def white(nodes: int) -> np.ndarray:
    """Return full white of RGB nodes."""
    return np.tile(np.array([255, 255, 255, 0], np.uint8), (nodes, 1))


def test_the_worked_example_is_rounded_down_to_174():
    """128 nodes of 1 + 3 x 18.5 mA under 5 A: (5 - 0.128) / 7.104 of 255 is 174.9. Computed by hand."""
    limiter = CurrentLimiter(display_of([string(1, 128, fuse_a=5 / 0.8)]))
    assert set(limiter.limit(white(128))[:, :3].reshape(-1).tolist()) == {174}
    (dimming,) = limiter.dimmings
    assert (dimming.name, dimming.is_supply) == ("jetty/1", False)
    assert dimming.asked_a == pytest.approx(7.232)
    assert dimming.limit_a == pytest.approx(5)
    assert dimming.percent == pytest.approx(68.581, abs=1e-3)


def test_a_frame_within_its_limits_is_the_same_array():
    """Nothing is copied, and nothing is said."""
    limiter = CurrentLimiter(display_of([string(1, 128, fuse_a=10)]))
    nodes = white(128)
    assert limiter.limit(nodes) is nodes
    assert limiter.dimmings == ()


def test_only_the_string_behind_the_fuse_is_dimmed():
    """Its neighbour stays as it is."""
    limiter = CurrentLimiter(display_of([string(1, 100, fuse_a=1), string(2, 100)]))
    nodes = limiter.limit(white(200))
    assert nodes[:100].max() < 255
    assert (nodes[100:, :3] == 255).all()


def test_a_supply_dims_all_its_strings_alike():
    """Two strings of 5.65 A on a supply of 10 A, of which 8 A are for hours."""
    shed = Supply(name="shed", volts=5, amps=10)
    ports = [string(1, 100, supply="shed"), string(2, 100, supply="shed")]
    limiter = CurrentLimiter(display_of(ports, shed))
    nodes = limiter.limit(white(200))
    assert set(nodes[:, 0].tolist()) == {int(255 * (8 - 0.2) / 11.1)}
    assert [dimming.name for dimming in limiter.dimmings] == ["shed"]
    assert limiter.dimmings[0].is_supply


def test_more_idle_current_than_the_limit_leaves_the_string_dark():
    """Nothing more can be done from here; it is told as 0 %."""
    limiter = CurrentLimiter(display_of([string(1, 100, fuse_a=0.1)]))
    assert not limiter.limit(white(100)).any()
    assert limiter.dimmings[0].percent == 0


def test_skipped_nodes_are_dark_but_not_free():
    """They stand on the line before the string's first: 100 of 1 mA, beside 10 x 56.5 mA."""
    limiter = CurrentLimiter(display_of([string(1, 10, skip=100, fuse_a=0.5)]))
    limiter.limit(white(10))
    assert limiter.dimmings[0].asked_a == pytest.approx(0.665)


def test_a_dark_frame_is_never_dimmed():
    """There is nothing to take away."""
    limiter = CurrentLimiter(display_of([string(1, 100, fuse_a=0.1)]))
    limiter.limit(np.zeros((100, 4), np.uint8))
    assert not limiter.is_dimming


fuses = st.one_of(st.none(), st.floats(0.2, 6))
supply_names = st.sampled_from([None, "shed", "roof"])
ports = st.lists(
    st.builds(
        lambda nodes, kind, supply, fuse, skip, back, points: {
            "nodes": nodes, "node_kind": kind, "supply": supply, "fuse_a": fuse, "skip": skip,
            "reversed": back,
            "injections": tuple(
                injection(min(at, nodes), metres, fuse_a=second, supply=other)
                for at, metres, second, other in points
            ),
        },
        st.integers(1, 80), st.sampled_from([kind.name for kind in KINDS]), supply_names, fuses,
        st.integers(0, 2), st.booleans(),
        st.lists(st.tuples(st.integers(1, 80), st.floats(0.5, 10), fuses, supply_names), max_size=2),
    ),
    min_size=1, max_size=5,
)  # fmt: skip
volts = st.floats(4.8, 5.2)


@settings(max_examples=150, deadline=None)
@given(ports, volts, volts, st.floats(0.5, 20), st.integers(0, 2**32 - 1), st.sampled_from(["GRB", "WRGB"]))
def test_no_frame_passes_a_limit_of_any_display(  # noqa: PLR0913, PLR0917
    made: list[dict[str, Any]], shed_v: float, roof_v: float, amps: float, seed: int, order: str
):
    """Whatever is shown, the solved circuit draws no more than its limits, or the string is dark.

    Solved by another path than the limiter's: its sums are upper bounds that never look at a voltage.
    """
    wide = [
        {**one, "node_kind": "bulbs"} if order == "WRGB" and one["node_kind"] == "made" else one
        for one in made
    ]
    display = display_of(
        [
            string(
                n + 1,
                one["nodes"],
                colour_order=order,
                wire=Wire(awg=18),
                **{k: v for k, v in one.items() if k != "nodes"},
            )
            for n, one in enumerate(wide)
        ],
        Supply(name="shed", volts=shed_v, amps=amps),
        Supply(name="roof", volts=roof_v, amps=amps),
    )
    count = sum(port.nodes for port in display.ports)
    rng = np.random.default_rng(seed)
    asked = rng.integers(0, 256, (count, 4), np.uint8)
    asked |= rng.choice([0, 255], (count, 1)).astype(np.uint8)
    nodes = CurrentLimiter(display).limit(asked)
    assert (nodes <= asked).all()
    loads = Loads(display)
    load = loads.of_frame(nodes)
    begins = np.cumsum([0, *(port.nodes for port in display.ports)])
    for row, port in enumerate(load.ports):
        is_lit = nodes[begins[row] : begins[row + 1]].any()
        for feed, drawn_a in zip(loads.bases[row].feeds, port.feed_a, strict=True):
            assert not is_lit or drawn_a <= fuse_limit_a(feed.fuse_a) + 1e-9
    if load.is_settled:
        for row, supply in enumerate(display.supplies):
            fed = [any(f.supply == supply.name for f in basis.feeds) for basis in loads.bases]
            are_lit = any(nodes[begins[n] : begins[n + 1]].any() for n, is_fed in enumerate(fed) if is_fed)
            assert not are_lit or load.supply_a[row] <= supply_limit_a(supply) + 1e-9


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 200), st.floats(0.3, 8), st.integers(0, 2**32 - 1))
def test_no_more_is_taken_than_the_limit_asks(count: int, fuse_a: float, seed: int):
    """One step brighter than the limiter leaves it, and the limit would be passed; so it is not too careful.

    A whole octet of rounding for each component is allowed, and the limiter's parts of 1 / 65536.
    """
    display = display_of([string(1, count, fuse_a=fuse_a)])
    asked = np.random.default_rng(seed).integers(0, 256, (count, 4), np.uint8)
    asked[:, 3] = 0
    limiter = CurrentLimiter(display)
    nodes = limiter.limit(asked)
    if limiter.is_dimming and limiter.dimmings[0].percent > 0:
        brighter = np.minimum(asked, nodes.astype(int) + 1).astype(np.uint8)
        amps = count * 1e-3 + brighter.sum() * 18.5e-3 / 255
        assert amps > fuse_limit_a(fuse_a) * (1 - 1e-4)
