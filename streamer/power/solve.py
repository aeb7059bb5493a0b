"""Solves the circuit of all strings at once: nodal analysis, one banded system a step.

Nodes whose current depends on their voltage are met by Newton's method: each is replaced by a conductance
and a current that agree with it at the voltage found last.
"""

from dataclasses import dataclass

import numpy as np

from streamer.display.electrics import Drive
from streamer.display.slots import Indices
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
    volts, feed_v, is_settled = nominal, network.feed_volts, False
    state = _loop if network.is_even else _rails
    for _ in range(STEPS_LIMIT):
        # A step may go below 0 V, where nothing is drawn; a tangent taken there would lead further away.
        volts = np.maximum(volts, 0.0)
        drawn, slope = _drawn(drive, nominal, least, load_a, volts)
        found, feed_v = state(network, slope, drawn - slope * volts)
        is_settled = bool(np.abs(found - volts).max(initial=0) < SETTLED_V)
        volts = found
        if is_settled:
            break
    drawn, _ = _drawn(drive, nominal, least, load_a, np.maximum(volts, 0.0))
    return Solution(volts, drawn, network.feed_s * feed_v, is_settled)


def shares(network: Network) -> Floats:
    """Return what of each node's current each of its port's feeds brings, (L, most feeds of a port).

    By reciprocity: the voltage at each node with one feed at 1 V, the port's others at 0 V and nothing drawn.
    """
    nth = np.arange(len(network.feeds)) - np.searchsorted(network.feed_port, network.feed_port)
    sources = np.zeros((len(network.port_of_node), int(nth.max(initial=0)) + 1))
    np.add.at(sources, (network.feed_node, nth), network.feed_s)
    return _solved(1, network.positive_s, network.feed_node, network.feed_s, sources)


def _drawn(
    drive: np.ndarray, nominal: Floats, least: Floats, load_a: Floats, volts: Floats
) -> tuple[Floats, Floats]:
    """Return what each node draws at a voltage, and how that changes with it, in A and A/V.

    Below its minimum a node's current is taken to fall in proportion to its voltage.
    """
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


def _loop(network: Network, slope_s: Floats, drawn_a: Floats) -> tuple[Floats, Floats]:
    """Return the voltage at each node and over each feed's conductor, where both conductors carry the same.

    One of twice the resistance stands for the pair.
    """
    half_s = network.feed_s / 2
    fed = -drawn_a
    np.add.at(fed, network.feed_node, half_s * network.feed_volts)
    volts = _solved(1, network.positive_s / 2, network.feed_node, half_s, fed, slope_s)
    return volts, (network.feed_volts - volts[network.feed_node]) / 2


def _rails(network: Network, slope_s: Floats, drawn_a: Floats) -> tuple[Floats, Floats]:
    """Return the same of any network: unknown are both conductors' potentials, node by node in turn."""
    along = np.stack([network.positive_s, network.negative_s], axis=1).reshape(-1)
    reached = np.concatenate([2 * network.feed_node, 2 * network.return_node + 1])
    fed = np.stack([-drawn_a, drawn_a], axis=1).reshape(-1)
    np.add.at(fed, 2 * network.feed_node, network.feed_s * network.feed_volts)
    potentials = _solved(2, along, reached, np.concatenate([network.feed_s, network.return_s]), fed, slope_s)
    positive, negative = potentials[0::2], potentials[1::2]
    return positive - negative, network.feed_volts - positive[network.feed_node]


def _solved(  # noqa: PLR0913, PLR0917  a matrix in its parts
    rails: int,
    along_s: Floats,
    reached: Indices,
    reached_s: Floats,
    fed_a: Floats,
    slope_s: Floats | None = None,
) -> Floats:
    """Return the potentials of a ladder of one or two rails, fed with these currents.

    `along_s` joins each point to that of the same rail before; `reached_s` joins points to a supply, and
    `slope_s` a node's two rails to each other, or the one that stands for both to nothing.
    """
    from scipy.linalg import solve_banded

    bands = np.zeros((2 * rails + 1, len(along_s)))
    bands[0, rails:] = bands[-1, :-rails] = -along_s[rails:]
    bands[rails] = along_s
    bands[rails, :-rails] += along_s[rails:]
    np.add.at(bands[rails], reached, reached_s)
    if slope_s is not None:
        bands[rails] += np.repeat(slope_s, rails)
        if rails > 1:
            bands[1, 1::2] = bands[3, 0::2] = -slope_s
    return np.asarray(solve_banded((rails, rails), bands, fed_a, check_finite=False))
