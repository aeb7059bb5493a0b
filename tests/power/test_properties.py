"""What holds of every string, whatever it is made of.

Each property is textbook circuit theory: Kirchhoff's laws, superposition and reciprocity of resistive
networks, and that a conductor which only gives current away falls in voltage along the way.
"""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from streamer.display.electrics import Drive, Wire
from streamer.power.basis import basis_of
from streamer.power.copper import Copper
from streamer.power.loads import Loads
from streamer.power.network import Network, network_of
from streamer.power.solve import shares, solve
from tests.power.yard_of_strings import Made, injection, lead

strings = st.builds(
    Made,
    nodes=st.integers(1, 60),
    ma=st.floats(0, 80),
    apart_mm=st.floats(10, 300),
    wire=st.integers(14, 24).map(lambda awg: Wire(awg=awg)),
    volts=st.sampled_from([5.0, 12.0]),
    volts_min=st.just(4.5),
    drive=st.sampled_from([Drive.CONSTANT_CURRENT, Drive.RESISTIVE]),
    idle_ma=st.floats(0, 5),
)


def network_of_one(made: Made, **port: Any) -> Network:
    """Return the circuit of a display of one string."""
    display = made.display(**port)
    return network_of([basis_of(display, display.ports[0])], Copper())


@settings(deadline=None)
@given(strings, st.floats(0, 100), st.floats(0, 100), st.data())
def test_current_never_falls_as_the_level_rises(made: Made, one: float, other: float, data: st.DataObject):
    """At every port, and of the whole display, fed at one point or at several."""
    after = data.draw(st.lists(st.integers(1, made.nodes), max_size=2))
    loads = Loads(made.display(injections=tuple(injection(at, 4) for at in after)))
    low, high = (loads.of_white(level) for level in sorted((one, other)))
    assert low.amps <= high.amps + 1e-9
    assert low.ports[0].amps <= high.ports[0].amps + 1e-9


@settings(deadline=None)
@given(strings, st.integers(0, 3), st.sampled_from([False, True]), st.data())
def test_voltage_never_rises_along_a_string_without_injection(
    made: Made, skip: int, is_reversed: object, data: st.DataObject
):
    """From the end that is fed, whatever each of its nodes shows."""
    octets = data.draw(st.lists(st.integers(0, 255), min_size=made.nodes * 4, max_size=made.nodes * 4))
    loads = Loads(made.display(skip=skip, reversed=is_reversed, lead=lead(2)))
    volts = loads.of_frame(np.array(octets, np.uint8).reshape(-1, 4)).ports[0].volts
    assert (np.diff(volts[::-1] if is_reversed else volts) <= 1e-9).all()


@settings(deadline=None)
@given(strings, st.lists(st.tuples(st.integers(1, 60), st.floats(0.1, 20), st.booleans()), max_size=3))
def test_at_every_node_what_comes_in_goes_out(made: Made, points: list[tuple[int, float, bool]]):
    """Kirchhoff's current law at the positive of each node, and over the string as a whole."""
    feeds = tuple(
        injection(at, metres, is_positive_cut=cut and at < made.nodes)
        for at, metres, cut in points
        if at <= made.nodes
    )
    network = network_of_one(made, injections=feeds)
    solution = solve(network, network.white_a(1.0))
    assert solution.is_settled
    assert solution.feed_a.sum() == pytest.approx(solution.node_a.sum(), abs=1e-6)
    if network.is_even:
        along = network.positive_s / 2 * -np.diff(solution.volts, prepend=solution.volts[:1])
        fed = np.zeros(len(along))
        np.add.at(fed, network.feed_node, solution.feed_a)
        onward = np.append(along[1:], 0.0)
        assert along + fed - onward == pytest.approx(solution.node_a, abs=1e-6)


@settings(deadline=None)
@given(strings, st.lists(st.integers(1, 60), min_size=1, max_size=4), st.floats(0.1, 30))
def test_more_injection_never_lowers_the_lowest_voltage(made: Made, points: list[int], metres: float):
    """Of one supply, its positive going on."""
    lowest = [
        solve(network, network.white_a(1.0)).volts.min()
        for count in range(len(points) + 1)
        for network in [
            network_of_one(
                made, injections=tuple(injection(min(at, made.nodes), metres) for at in points[:count])
            )
        ]
    ]
    assert (np.diff(lowest) >= -1e-9).all()


@settings(deadline=None)
@given(strings, st.lists(st.integers(1, 60), max_size=3), st.data())
def test_shares_of_the_feeds_are_those_of_the_solved_circuit(
    made: Made, points: list[int], data: st.DataObject
):
    """By reciprocity: the feeds' currents are the nodes' currents times the shares, which add up to 1."""
    network = network_of_one(made, injections=tuple(injection(min(at, made.nodes), 3) for at in points))
    parts = shares(network)
    assert parts.sum(axis=1) == pytest.approx(np.ones(made.nodes))
    octets = data.draw(st.lists(st.integers(0, 255), min_size=made.nodes * 4, max_size=made.nodes * 4))
    solution = solve(network, network.load_a(np.array(octets, np.uint8).reshape(-1, 4)))
    assert solution.feed_a == pytest.approx(solution.node_a @ parts, abs=1e-6)
