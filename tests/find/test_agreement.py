"""What the finder predicts is what the yard shows: two decoders that were written apart."""

import random

import numpy as np
import pytest

from streamer.display.model import Display
from streamer.find.choice import asks_of
from streamer.find.finding import Bench, Finding
from streamer.find.kinds import Kind
from streamer.find.look import Look
from tests.find.closed_loop import Lawn
from tests.find.conftest import bench_of
from tests.find.draws import faults_of

pytestmark = pytest.mark.slow

PORTS = ["boathouse/2", "boathouse/3", "boathouse/4", "lake/1", "lake/3"]
"""Fed at the end; skipped nodes; two universes; RGBW, packed; a node split between two Port-Addresses."""
AT_ONE_LIGHT = frozenset({Kind.DEAD, Kind.STUCK, Kind.COLOUR})
CASES = [(port, "six") for port in PORTS] + [("boathouse/2", "three"), ("lake/1", "lit")]


def drawn_rows(bench: Bench, chance: random.Random) -> list[int]:
    """Return a hypothesis of every kind, and several with one odd light."""
    by_kind: dict[Kind, list[int]] = {}
    for number, row in enumerate(bench.table.rows):
        by_kind.setdefault(row.kind, []).append(number)
    return [
        row
        for kind, rows in by_kind.items()
        for row in chance.sample(rows, min(len(rows), 3 if kind in AT_ONE_LIGHT else 1))
    ]


@pytest.mark.parametrize(("port", "eyes"), CASES)
def test_every_question_about_a_picture_is_answered_as_predicted(sample: Display, port: str, eyes: str):
    """For a drawn fault of every kind, over pictures that could be put up first."""
    bench, chance = bench_of(sample, port, eyes), random.Random(f"{port} {eyes}")  # noqa: S311
    pictures = list(bench.chooser.pictures(bench.table.columns, bench.table.prior))
    whole = [picture for picture in pictures if picture.is_whole]
    for row in drawn_rows(bench, chance):
        lawn = Lawn(sample, bench, faults_of(bench, bench.table.rows[row]))
        alone = bench.table.columns.only(np.array([row]))
        for picture in [*chance.sample(pictures, 3), *chance.sample(whole, 4)]:
            looks = [Look(picture, asks) for asks in asks_of(picture)]
            lawn.put_up(looks[0])
            for look in looks:
                (predicted,) = bench.chooser.predicted(look, alone)
                assert lawn.answer(look) == predicted, (bench.table.rows[row], look.asks)


def test_each_kind_of_fault_is_answered_as_predicted_to_its_end(sample: Display):
    """Every look of a search, the last with its yes or no, for a fault of every kind."""
    chance = random.Random(3)  # noqa: S311
    for kind in Kind:
        bench = bench_of(sample, chance.choice(["boathouse/3", "lake/1"]))
        rows = [number for number, row in enumerate(bench.table.rows) if row.kind is kind]
        for row in chance.sample(rows, min(1, len(rows))):
            lawn = Lawn(sample, bench, faults_of(bench, bench.table.rows[row]))
            finding = Finding(bench)
            while finding.look:
                lawn.put_up(finding.look)
                answer = lawn.answer(finding.look)
                predicted = bench.chooser.predicted(finding.look, bench.table.columns)[row]
                assert answer == predicted, (bench.table.rows[row], finding.look.asks)
                finding.answer(answer)
            assert finding.possibilities()[0].row == bench.table.rows[row]
