"""Strings whose voltages are known in closed form, and circuits that a dense solver solves too.

Closed forms are textbook circuit theory: N equal constant currents I at even distances, a loop resistance
r from node to node, add up to r I N (N + 1) / 2 at the end of a string fed at one end.
"""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from streamer.display.electrics import Drive, Injection, Supply, Wire
from streamer.power.basis import basis_of
from streamer.power.copper import Copper
from streamer.power.network import Network, network_of
from streamer.power.solve import Solution, solve
from tests.power.netlist import netlist_of
from tests.power.yard_of_strings import AWG_18, AWG_20, Made, injection, lead

SOLID = Copper(is_stranded=False)
LOOP_AWG_20 = 2 * 33.309e-3
"""Ohm a metre, both conductors; ASTM B258 and IEC 60028."""


def white(made: Made, **port: Any) -> tuple[Network, Solution]:
    """Return a string's circuit and its state at full white."""
    display = made.display(**port)
    network = network_of([basis_of(display, display.ports[0])], SOLID)
    return network, solve(network, network.white_a(1.0))


def against_the_netlist(network: Network, solution: Solution) -> None:
    """Hold a solution against the dense solver, node by node."""
    net = netlist_of(network.bases[0], SOLID.ohms_per_m, solution.node_a)
    found = net.solve()
    nodes = range(1, len(solution.volts) + 1)
    volts = [found["+", k] - found["-", k] for k in nodes]
    assert solution.volts == pytest.approx(volts, abs=1e-9)
    for nth, amps in enumerate(solution.feed_a):
        terminal = "terminal", nth
        (ohms, point) = next((ohms, b) for a, b, ohms in net.resistors if a == terminal)
        assert amps == pytest.approx((found[terminal] - found[point]) / ohms, abs=1e-9)


def test_worked_a_fed_at_one_end():
    """50 nodes of 55 mA, 10 cm of 20 AWG apart: r I N (N + 1) / 2 = 0.467159 V at the end of 5 V."""
    network, solution = white(Made())
    k = np.arange(1, 51)
    drop = LOOP_AWG_20 * 0.1 * 0.055 * (k * 50 - k * (k - 1) / 2)
    assert 5 - solution.volts == pytest.approx(drop, rel=1e-5)
    assert 5 - solution.volts[-1] == pytest.approx(0.467159, abs=1e-6)
    assert solution.feed_a.sum() == pytest.approx(2.75)
    against_the_netlist(network, solution)


def test_worked_b_fed_at_both_ends():
    """The same string, its second feed one spacing past its end: r I N (N + 2) / 8 = 0.119080 V."""
    network, solution = white(Made(), injections=(injection(50, 0.1, AWG_20),))
    assert 5 - solution.volts.min() == pytest.approx(0.119080, abs=1e-6)
    assert 5 - solution.volts.min() == pytest.approx(LOOP_AWG_20 * 0.1 * 0.055 * 50 * 52 / 8, rel=1e-5)
    assert solution.volts.argmin() + 1 in {25, 26}
    against_the_netlist(network, solution)


def test_worked_c_with_a_lead():
    """100 nodes of 56.7 mA, 3 in of 18 AWG apart, 3 m of 18 AWG before: 0.712659 V + 0.914128 V of 12 V."""
    made = Made(nodes=100, ma=56.7, apart_mm=76.2, wire=AWG_18, volts=12)
    network, solution = white(made, lead=lead(3))
    assert 12 - solution.volts[-1] == pytest.approx(1.626787, abs=1e-6)
    assert solution.feed_a.sum() == pytest.approx(5.67)
    against_the_netlist(network, solution)


def test_worked_d_with_an_injection():
    """The same string with leads of 2 m to its start and 8 m to node 75.

    J = (R1 N I + r I S) / (R1 + R2 + 75 r), S the sum of N - j + 1 over j = 1..75: 2.020652 A.
    """
    made = Made(nodes=100, ma=56.7, apart_mm=76.2, wire=AWG_18, volts=12)
    network, solution = white(made, lead=lead(2), injections=(injection(75, 8),))
    loop = 2 * SOLID.ohms_per_m(AWG_18)
    r, r1, r2 = loop * 0.0762, loop * 2, loop * 8
    s = sum(100 - j + 1 for j in range(1, 76))
    injected = (r1 * 100 * 0.0567 + r * 0.0567 * s) / (r1 + r2 + 75 * r)
    assert injected == pytest.approx(2.020652, abs=1e-6)
    assert solution.feed_a == pytest.approx([5.67 - injected, injected], abs=1e-9)
    drops = 12 - solution.volts
    assert drops[[64, 74, 99]] == pytest.approx([0.686565, 0.677266, 0.736096], abs=1e-6)
    against_the_netlist(network, solution)


def test_worked_e_of_regulated_nodes():
    """50 nodes of 0.6 W at 12 V on 18 AWG: 11.727759 V at the end, 2.538866 A (by fixed point)."""
    made = Made(ma=50, wire=AWG_18, volts=12, volts_min=8, drive=Drive.REGULATED)
    _, solution = white(made)
    assert solution.volts[-1] == pytest.approx(11.727759, abs=1e-6)
    assert solution.feed_a.sum() == pytest.approx(2.538866, abs=1e-6)
    assert solution.node_a * solution.volts == pytest.approx(np.full(50, 0.6))


def test_resistive_nodes_follow_the_hyperbolic_sine():
    """V_k = V cosh((N - k + 1/2) a) / cosh((N + 1/2) a) with 2 sinh(a / 2) = sqrt(r / R).

    Textbook, a ladder of equal resistors: the difference equation of a uniform ladder, open at its end.
    """
    _, solution = white(Made(volts=12, drive=Drive.RESISTIVE))
    r, load = 2 * SOLID.ohms_per_m(AWG_20) * 0.1, 12 / 0.055
    a = 2 * np.arcsinh(np.sqrt(r / load) / 2)
    k = np.arange(1, 51)
    assert solution.volts == pytest.approx(12 * np.cosh((50 - k + 0.5) * a) / np.cosh(50.5 * a), rel=1e-9)


def test_a_starved_node_draws_in_proportion_to_its_voltage():
    """One node behind a long lead: V = 5 - R I V / Vmin, solved by bisection and by hand."""
    made = Made(nodes=1, ma=1000, volts_min=4.5)
    _, solution = white(made, lead=lead(40))
    ohms = 2 * (SOLID.ohms_per_m(AWG_18) * 40 + SOLID.ohms_per_m(AWG_20) * 0.1)
    assert solution.volts[0] == pytest.approx(brentq(lambda v: 5 - ohms * min(1, v / 4.5) - v, 0, 5))
    assert solution.volts[0] == pytest.approx(5 / (1 + ohms / 4.5))


parts = st.builds(
    lambda after, metres, awg, supply, cut: Injection(
        after=after,
        lead=lead(metres, Wire(awg=awg)),
        supply=supply,
        is_positive_cut=cut and after < 20,
    ),
    st.integers(1, 20), st.floats(0.1, 20), st.integers(12, 22), st.sampled_from(["shed", "roof"]),
    st.booleans(),
)  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(
    st.lists(parts, max_size=4, unique_by=lambda part: part.after),
    st.sampled_from(Drive),
    st.floats(4.5, 5.5),
    st.floats(1, 120),
    st.integers(0, 1),
)
def test_any_circuit_is_what_a_dense_solver_finds(
    injections: list[Injection], drive: Drive, roof_volts: float, ma: float, leads: int
):
    """Leads, cuts and supplies of two voltages; the currents are put in, so this checks the copper alone."""
    made = Made(nodes=20, ma=ma, drive=drive, volts_min=4.5, idle_ma=1)
    roof = Supply(name="roof", volts=roof_volts, amps=50)
    more = {"lead": lead(3)} if leads else {}
    display = made.display(supplies=(roof,), injections=tuple(injections), **more)
    network = network_of([basis_of(display, display.ports[0])], SOLID)
    solution = solve(network, network.white_a(1.0))
    if solution.is_settled:
        against_the_netlist(network, solution)


@settings(max_examples=100, deadline=None)
@given(st.lists(parts, max_size=3, unique_by=lambda part: part.after), st.floats(1, 300))
def test_a_constant_current_or_resistive_string_always_settles(injections: list[Injection], ma: float):
    """However far it is overloaded: its currents never grow as its voltage falls, so there is one state."""
    for drive in (Drive.CONSTANT_CURRENT, Drive.RESISTIVE):
        made = Made(nodes=20, ma=ma, apart_mm=2000, drive=drive, volts_min=4.5)
        display = made.display(
            supplies=(Supply(name="roof", volts=5, amps=50),), injections=tuple(injections)
        )
        network = network_of([basis_of(display, display.ports[0])], SOLID)
        assert solve(network, network.white_a(1.0)).is_settled
