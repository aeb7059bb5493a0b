"""Which node stands out, as the finder predicts it and as a robot at the yard sees it."""

import numpy as np
import pytest

from streamer.find.answers import RED_CODE, YELLOW_CODE, Answer
from streamer.find.finding import Bench
from streamer.find.look import Look
from streamer.find.questions import Asks
from streamer.yard.faults import DeadColour, DeadNode, Fault, StuckNode, WrongOrder
from tests.find.closed_loop import Lawn
from tests.find.conftest import one_string
from tests.find.draws import faults_of

YELLOWS, REDS = 6, 6
DISPLAY = one_string(YELLOWS + REDS)


@pytest.fixture(name="bench", scope="module")
def _bench() -> Bench:
    return Bench(DISPLAY, "jetty/1")


def look_at_two_blocks(bench: Bench) -> Look:
    """Return six nodes yellow, then six red, and the question which stands out."""
    codes = np.zeros(bench.thinking.lights, np.uint8)
    codes[:YELLOWS], codes[YELLOWS : YELLOWS + REDS] = YELLOW_CODE, RED_CODE
    return Look(bench.painter.planned(codes, is_whole=True), Asks.BESIDE)


@pytest.mark.parametrize(
    ("faults", "seen"),
    [
        ([], Answer.NONE),  # the edge between two blocks is none that stands out
        ([DeadNode(node=3)], Answer.YELLOW),
        ([DeadNode(node=9)], Answer.RED),
        ([DeadColour(node=3, light="green")], Answer.YELLOW),  # red among yellow, though red is sent too
        ([DeadColour(node=6, light="green")], Answer.NONE),  # that only moves the edge
        ([DeadColour(node=7, light="red")], Answer.YELLOW),  # dark between the blocks
        ([StuckNode(node=1, colour="blue")], Answer.YELLOW),  # node 1 has nothing before it: the other side
        ([StuckNode(node=1, colour="red")], Answer.YELLOW),
        ([StuckNode(node=10, colour="white")], Answer.RED),
        ([WrongOrder(colour_order="BGR")], Answer.NONE),  # whole blocks of another colour
    ],
)
def test_a_node_stands_out_by_the_nodes_beside_it(bench: Bench, faults: list[Fault], seen: Answer):
    """What the finder thinks is answered is what the robot answers, and what a person would (computed)."""
    look = look_at_two_blocks(bench)
    row = next(
        index for index, each in enumerate(bench.table.rows) if faults_of(bench, each)["jetty/1"] == faults
    )
    assert bench.chooser.predicted(look, bench.table.columns)[row] == seen
    lawn = Lawn(DISPLAY, bench, {"jetty/1": faults})
    lawn.put_up(look)
    assert lawn.answer(look) == seen
