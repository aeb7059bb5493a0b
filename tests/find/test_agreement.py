"""What the finder predicts is what the yard shows: two decoders that were written apart."""

import random

import pytest

from streamer.display.model import Display
from streamer.find.answers import EYES
from streamer.find.choice import asks_of
from streamer.find.finding import Bench, Finding, Terms
from streamer.find.kinds import Kind
from streamer.find.look import Look
from tests.find.closed_loop import Lawn
from tests.find.draws import draw, faults_of

PORTS = ["boathouse/2", "boathouse/3", "boathouse/4", "lake/1", "lake/3"]
"""Fed at the end; skipped nodes; two universes; RGBW, packed; a node split between two Port-Addresses."""


@pytest.mark.parametrize("eyes", list(EYES))
@pytest.mark.parametrize("port", PORTS)
def test_every_question_about_every_picture_is_answered_as_predicted(sample: Display, port: str, eyes: str):
    """For drawn faults, one of each of several kinds, over all pictures that could be put up first."""
    bench = Bench(sample, port, Terms(eyes=EYES[eyes]))
    chance = random.Random(f"{port} {eyes}")  # noqa: S311
    pictures = list(bench.chooser.pictures(bench.table.columns, bench.table.prior))
    for _ in range(3):
        row = draw(bench.table, chance)
        lawn = Lawn(sample, bench, faults_of(bench, bench.table.rows[row]))
        for picture in chance.sample(pictures, 12):
            looks = [Look(picture, asks) for asks in asks_of(picture)]
            lawn.put_up(looks[0])
            for look in looks:
                predicted = bench.chooser.predicted(look, bench.table.columns)[row]
                assert lawn.answer(look) == predicted, (bench.table.rows[row], look.asks)


def test_each_kind_of_fault_is_answered_as_predicted_to_its_end(sample: Display, benches: dict[str, Bench]):
    """Every look of a search, the last with its yes or no, for a fault of every kind."""
    chance = random.Random(3)  # noqa: S311
    for kind in Kind:
        bench = benches[chance.choice(PORTS)]
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
