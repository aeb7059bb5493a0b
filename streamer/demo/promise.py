"""What a show promises: the frame of each of its steps, and the slots that carry it in each stream.

Worked out from the pattern and the patch alone, the level rule included, so that it can contradict the
engine.
"""

import math
from collections import defaultdict

import numpy as np

from patterns.plain import Bytes, Frame, Layout, Moment
from patterns.registry import get, settle
from streamer.display.model import SLOTS_PER_UNIVERSE
from streamer.display.patch import Patch
from streamer.engine.messages import Show

COLOURS = frozenset({"red", "green", "blue", "white", "amber", "uv"})
DIMMER = "dimmer"
PERCENT = 100
AHEAD_STEPS = 1
"""A step may begin with the frame at hand when the show is changed, a little before it was asked for."""


class Promise:
    """A show on a patch, asked for at `began_s`."""

    def __init__(self, patch: Patch, name: str, frames: list[Frame], pace: float, began_s: float) -> None:
        self.name = name
        self._frames = frames
        self._pace = pace
        self._began_s = began_s
        self._steps_of = _steps_by_slots(patch, frames)

    @property
    def steps(self) -> int:
        """How many steps it has until it repeats."""
        return len(self._frames)

    def frame(self, step: int) -> Frame:
        """Return what the lights show at a step, the level applied."""
        return self._frames[step % self.steps]

    def reached(self, now_s: float) -> int:
        """Return the furthest step that may be shown at `now_s`."""
        return math.floor((now_s - self._began_s) * self._pace) + AHEAD_STEPS

    def step_of(self, stream: int, slots: bytes, least: int) -> int | None:
        """Return the first step from `least` on in which a stream has these slots; None if it never has."""
        steps = self._steps_of[stream].get(slots, ())
        return min((least + (step - least) % self.steps for step in steps), default=None)


def promise_of(patch: Patch, show: Show, began_s: float) -> Promise:
    """Return what a show promises; PatternError for one that cannot be."""
    pattern = get(show.pattern)
    params = settle(pattern, show.params)
    frames = [
        _at_level(patch.layout, pattern.render(patch.layout, Moment(step, 0.0), params), show.level_percent)
        for step in range(max(1, pattern.steps(patch.layout, params)))
    ]
    pace = min(pattern.pace if show.pace is None else show.pace, pattern.pace_limit)
    return Promise(patch, pattern.name, frames, pace, began_s)


def darkness(patch: Patch, began_s: float) -> Promise:
    """Return the promise that every light is dark."""
    return Promise(patch, "dark", [patch.layout.dark()], 0.0, began_s)


def _at_level(layout: Layout, frame: Frame, level_percent: float) -> Frame:
    """Scale what is brightness, rounded down: nodes; dimmers; and the colours of fixtures without one."""
    fixtures = layout.fixture_of_channel.tolist()
    dimmed = {fixture for fixture, role in zip(fixtures, layout.channel_roles, strict=True) if role == DIMMER}
    channels = frame.channels.copy()
    for channel, (fixture, role) in enumerate(zip(fixtures, layout.channel_roles, strict=True)):
        if role == DIMMER or (role in COLOURS and fixture not in dimmed):
            channels[channel] = int(channels[channel]) * level_percent // PERCENT
    nodes = (frame.nodes.astype(np.float64) * level_percent // PERCENT).astype(np.uint8)
    return Frame(nodes, channels)


def _steps_by_slots(patch: Patch, frames: list[Frame]) -> list[dict[bytes, list[int]]]:
    """Return for each stream which steps have which slots."""
    found: list[dict[bytes, list[int]]] = [defaultdict(list) for _ in patch.streams]
    for step, frame in enumerate(frames):
        slots: Bytes = np.zeros((len(patch.streams), SLOTS_PER_UNIVERSE), np.uint8)
        patch.scatter(frame, slots)
        for row, stream in enumerate(patch.streams):
            found[row][slots[row, : stream.controller.slots].tobytes()].append(step)
    return found
