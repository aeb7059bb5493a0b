"""The canvas: every slot that a search lights arrives as a slot, through the pattern and the patch."""

import numpy as np
import pytest

from patterns.plain import Bytes, Moment
from patterns.registry import get, settle
from streamer.display.checks import check
from streamer.display.model import Display
from streamer.display.patch import StreamKey, compile_patch
from streamer.display.places import Place
from streamer.find.canvas import Canvas
from tests.find.conftest import one_string


def sent(canvas: Canvas, slots: Bytes) -> dict[StreamKey, Bytes]:
    """Return the levels of each stream, as the engine would send them, by universe."""
    pattern, patch = get("picture"), compile_patch(canvas.display)
    params = settle(pattern, {"nodes": canvas.told(slots)})
    levels = np.zeros((len(patch.streams), 512), np.uint8)
    patch.scatter(pattern.render(patch.layout, Moment(0, 0.0), params), levels)
    return {stream.key: levels[row] for row, stream in enumerate(patch.streams)}


@pytest.mark.parametrize("slots", [512, 511, 510, 509, 300, 9, 6])
def test_any_slot_can_be_lit_alone(slots: int):
    """Every slot that the controller's packets have, of each universe, and no other."""
    display = one_string(2)
    controller = display.controllers[0].model_copy(update={"slots": slots})
    display = display.model_copy(update={"controllers": (controller,)})
    canvas = Canvas(display, controller, range(1, 4))
    random = np.random.default_rng(slots)
    wanted = np.zeros(canvas.size + 1, np.uint8)
    for row in range(3):
        wanted[row * 512 : row * 512 + slots] = random.integers(0, 2, slots)
    arrived = sent(canvas, wanted)
    for key, row in canvas.rows.items():
        assert np.array_equal(arrived[key], wanted[row * 512 : (row + 1) * 512] * 255)


def test_a_canvas_is_a_display_that_passes_its_checks(sample: Display):
    """The engine refuses any other; fixtures are dark on it, and every planned universe is there."""
    for controller in sample.controllers:
        canvas = Canvas(sample, controller, range(8, 16))
        assert not check(canvas.display, lambda path: Place(str(path)))
        assert {stream.key for stream in compile_patch(sample).streams} <= set(canvas.rows)


def test_universes_that_a_protocol_does_not_have_are_left_out():
    """E1.31 has no universe 0 and none above 63999 (ANSI E1.31-2018 clause 6.2.7)."""
    display = one_string(2)
    canvas = Canvas(display, display.controllers[0], range(-1, 3))
    assert sorted(key.universe for key in canvas.rows) == [1, 2]
