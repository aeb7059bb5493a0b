"""Solves the circuit of all strings at once: nodal analysis, one tridiagonal system a step.

Nodes whose current depends on their voltage are met by Newton's method: each is replaced by a conductance
and a current that agree with it at the voltage found last.
"""

from dataclasses import dataclass

import numpy as np

from streamer.display.electrics import Drive
from streamer.power.basis import Floats
from streamer.power.network import DRIVES, Network

STEPS_LIMIT = 60
SETTLED_V = 1e-9
"""Voltages that move less than this have been found."""


@dataclass(frozen=True, slots=True)
class Solution:
    """The state of a network."""

    volts: Floats
    """(L,): at each node, between its two conductors."""
    node_a: Floats
    """(L,): what each draws at that voltage."""
    feed_a: Floats
    """(F,): below 0 where current flows back into a supply."""
    is_settled: bool
    """False where no steady state was found: regulated nodes ask for more than the copper can bring."""


def solve(network: Network, load_a: Floats) -> Solution:
    """Return the state with these nominal currents, (L,)."""
    drive = network.drive[network.port_of_node]
    nominal = network.volts[network.port_of_node]
    least = network.volts_min[network.port_of_node]
    volts, is_settled = nominal, False
    for _ in range(STEPS_LIMIT):
        drawn, slope = _drawn(drive, nominal, least, load_a, volts)
        found = _tridiagonal(network, slope, _fed(network) - drawn + slope * volts)
        is_settled = bool(np.abs(found - volts).max(initial=0) < SETTLED_V)
        volts = found
        if is_settled:
            break
    drawn, _ = _drawn(drive, nominal, least, load_a, volts)
    feed_a = network.feed_s * (network.feed_volts - volts[network.feed_node])
    return Solution(volts, drawn, feed_a, is_settled)


def shares(network: Network) -> Floats:
    """Return what of each node's current each of its port's feeds brings, (L, most feeds of a port).

    By reciprocity: the voltage at each node with one feed at 1 V, the port's others at 0 V and nothing drawn.
    """
    nth = np.arange(len(network.feeds)) - np.searchsorted(network.feed_port, network.feed_port)
    sources = np.zeros((len(network.port_of_node), int(nth.max(initial=0)) + 1))
    np.add.at(sources, (network.feed_node, nth), network.feed_s)
    return _tridiagonal(network, np.zeros(len(sources)), sources)


def _fed(network: Network) -> Floats:
    fed = np.zeros(len(network.port_of_node))
    np.add.at(fed, network.feed_node, network.feed_s * network.feed_volts)
    return fed


def _drawn(
    drive: np.ndarray, nominal: Floats, least: Floats, load_a: Floats, volts: Floats
) -> tuple[Floats, Floats]:
    """Return what each node draws at a voltage, and how that changes with it, in A and A/V.

    Below its minimum a node's current is taken to fall in proportion to its voltage.
    """
    volts = np.maximum(volts, 0.0)
    is_resistive = drive == DRIVES.index(Drive.RESISTIVE)
    is_regulated = drive == DRIVES.index(Drive.REGULATED)
    is_starved = (volts < least) & ~is_resistive
    at_least = np.where(is_regulated, load_a * nominal / least, load_a)
    per_volt = np.where(is_resistive, load_a / nominal, at_least / least)
    power = np.where(is_regulated, load_a * nominal, 0.0)
    safe = np.maximum(volts, least)
    is_linear = is_resistive | is_starved
    drawn = np.where(is_linear, per_volt * volts, np.where(is_regulated, power / safe, load_a))
    slope = np.where(is_linear, per_volt, -power / safe**2)
    return drawn, slope


def _tridiagonal(network: Network, shunt_s: Floats, current_a: Floats) -> Floats:
    from scipy.linalg import solve_banded

    diagonal = network.series_s + shunt_s
    diagonal[:-1] += network.series_s[1:]
    np.add.at(diagonal, network.feed_node, network.feed_s)
    bands = np.zeros((3, len(diagonal)))
    bands[0, 1:] = bands[2, :-1] = -network.series_s[1:]
    bands[1] = diagonal
    return np.asarray(solve_banded((1, 1), bands, current_a, check_finite=False))
