"""Many searches over real UDP: the engine's own process sends, the yard's sockets hear, the robot looks.

Nearly all of a search is waiting, for frames and for the flash guard: several lawns wait side by side, each
with an engine and an address of loopback of its own.
"""

import random
from concurrent.futures import ProcessPoolExecutor
from itertools import repeat
from multiprocessing import get_context

from streamer.cli.lights import Lights
from streamer.display.ranges import readdress
from streamer.engine.messages import Setup, Show
from streamer.find.answers import Answer
from streamer.find.finding import Bench, Finding
from tests.find import robot
from tests.find.displays import drawn_display
from tests.find.draws import draw, faults_of, ports_of
from tests.find.trial import Trial
from tests.find.wired_lawn import Lawn

LAWNS = 10
SETTLE_S, QUIET_S = 0.0, 0.02
"""Frames with a look have left before it is said to be up; on loopback they then wait to be read."""


def searches_over_udp(displays: int, draws: int, seed: int, address: str) -> Trial:
    """Search for so many drawn faults on each of so many drawn displays, all answers truthful.

    `address` is an address of loopback; those with another last number are taken as well.
    """
    lawns = min(LAWNS, displays)
    beside = [f"{address.rpartition('.')[0]}.{number}" for number in range(1, lawns + 1)]
    mine = [range(number, displays, lawns) for number in range(lawns)]
    found = Trial()
    with ProcessPoolExecutor(lawns, get_context("spawn")) as pool:
        for each in pool.map(_on_one_lawn, mine, beside, repeat(draws), repeat(seed)):
            found.add(each)
    return found


def _on_one_lawn(displays: range, address: str, draws: int, seed: int) -> Trial:
    """Search on some of the displays, one after another, with one engine."""
    found = Trial()
    benches = [_drawn(number, address, seed) for number in displays]
    with Lights(Setup(display=benches[0][0].canvas), "find") as lights:
        for bench, chance in benches:
            for _ in range(draws):
                row = draw(bench.table, chance)
                lawn = Lawn(bench.thinking.display, faults_of(bench, bench.table.rows[row]))
                # On another setup everything is sent again: this yard has seen nothing yet.
                lights.turn_to(Setup(display=bench.canvas))
                found.note(bench, row, search_over_udp(lights, lawn, bench))
    return found


def _drawn(number: int, address: str, seed: int) -> tuple[Bench, random.Random]:
    chance = random.Random(f"{seed} {number}")  # noqa: S311
    display = readdress(drawn_display(chance), (address,))
    return Bench(display, chance.choice(ports_of(display))), chance


def search_over_udp(lights: Lights, lawn: Lawn, bench: Bench) -> Finding:
    """Return a search that has come to its end; every look was sent, and looked at on the lawn."""
    finding, thinking, eyes = Finding(bench), bench.thinking, bench.terms.eyes
    witness = thinking.witness.name if thinking.witness else thinking.port.name
    with lawn.sockets:
        while look := finding.look:
            lights.put_up(Show(pattern="picture", params={"nodes": finding.nodes}, pace=0.0))
            lawn.settle(SETTLE_S, QUIET_S)
            finding.answer(
                robot.answer(
                    look.asks,
                    lawn.samples(thinking.port.name, flickers=lawn.flickers),
                    eyes.name,
                    fed_at_end=thinking.port.reversed,
                    sent=frozenset(Answer(int(eyes.seen[code])) for code in look.picture.sent),
                    beside=lawn.samples(witness, flickers=False),
                    expected=() if look.expected is None else look.expected.tolist(),
                )
            )
    return finding
