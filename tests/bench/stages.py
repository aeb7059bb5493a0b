"""What each stage of a frame costs: pattern, level, limits of current, flash guard, patch, and sending.

`python -m tests.bench.stages [--quick] [--json]`. In this process, set up like an engine's, frame after
frame, so that caches are warm; to a reader on loopback. Ten seconds, or three. Every string is behind a fuse
that it overloads when most of it is lit, and 50 are on a supply. The limits of current and the flash guard
are each to take less than a tenth of a frame's time at 1,000 universes. Ratios hold, absolute times do not.
"""

import gc
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from statistics import mean
from uuid import uuid4

import numpy as np

from patterns.plain import Frame, Moment
from patterns.registry import get, settle
from streamer.display.electrics import Supply
from streamer.display.model import Display, Protocol
from streamer.display.patch import compile_patch
from streamer.display.ranges import display_from_ranges
from streamer.engine.difference import Change
from streamer.engine.guard import FlashGuard
from streamer.engine.limits import Limits
from streamer.engine.messages import Setup
from streamer.engine.punctuality import this_system
from streamer.engine.streams import Streams
from streamer.net.batched import open_sender
from streamer.power.limiter import CurrentLimiter
from streamer.wire import e131
from tests.bench.engines import ADDRESS
from tests.bench.measuring import IS_QUICK, SENDERS_CORE, compiled, pin, print_found, reading

UNIVERSES = (10, 1000)
PATTERNS = ("walk", "ramp", "sweep", "probe", "tint")
STAGES = ("pattern", "level", "currents", "flash guard", "patch", "sending")
LEVEL_PERCENT = 30.0
FUSE_A, SUPPLY_A, STRINGS_PER_SUPPLY = 1.0, 40.0, 50
FRAMES = 40 if IS_QUICK else 200
WARM_FRAMES = 5
RATE_HZ = 40
PIECE = 64
Stages = list[float]
"""Microseconds of each stage, a frame."""


def measured() -> dict[tuple[str, int], Stages]:
    """Measure every pattern on every size."""
    pin(0, SENDERS_CORE)
    this_system().keep_memory()
    gc.freeze()
    gc.disable()
    with tempfile.TemporaryDirectory() as folder:
        program = compiled(Path(folder))
        return {
            (pattern, universes): _stages(program, pattern, universes)
            for universes in UNIVERSES
            for pattern in PATTERNS
        }


def _stages(program: Path | None, pattern: str, universes: int) -> Stages:
    with reading(program, ADDRESS, e131.PORT):
        frames = list(_frames(pattern, universes))[WARM_FRAMES:]
    return [mean(stage) * 1e6 for stage in zip(*frames, strict=True)]


def _frames(pattern_name: str, universes: int) -> Iterator[list[float]]:
    """Yield the seconds of each stage, frame by frame, every one another step of the pattern."""
    display = _fused(display_from_ranges(tuple(range(1, universes + 1)), Protocol.E131, (ADDRESS,)))
    pattern, patch, sender = get(pattern_name), compile_patch(display), open_sender(None)
    params, layout = settle(pattern, {}), patch.layout
    limits, guard = Limits(layout, LEVEL_PERCENT, None), FlashGuard(len(layout.place), 0)
    limiter = CurrentLimiter(display)
    streams = Streams(patch, uuid4(), Setup(display=display, every_frame=True))
    make, before = pattern.lit or pattern.render, None
    for number in range(WARM_FRAMES + FRAMES):
        moments = [time.process_time()]
        picture = make(layout, Moment(number, 0.0), params)
        moments.append(time.process_time())
        frame = limits.apply(picture)
        change, before = Change(before, frame, limits.altered, limits.totals), frame
        moments.append(time.process_time())
        nodes = limiter.limit(frame.nodes)
        frame = frame if nodes is frame.nodes else Frame(nodes, frame.channels)
        moments.append(time.process_time())
        frame = guard.admit(frame, number / RATE_HZ, change)
        moments.append(time.process_time())
        due = streams.at_frame(frame, guard.altered, number / RATE_HZ)
        moments.append(time.process_time())
        for batch, rows in due:
            batch.number(rows)
            for first in range(0, len(rows), PIECE):
                sender.send(batch.packets, rows[first : first + PIECE], batch.destinations)
        moments.append(time.process_time())
        yield np.diff(moments).tolist()
    sender.close()


def _fused(display: Display) -> Display:
    """Return the display with a fuse before every string, and a supply for every so many."""
    controllers, shared = [], 0
    for controller in display.controllers:
        ports = []
        for port in controller.ports:
            fed = {"fuse_a": FUSE_A, "supply": f"supply {shared // STRINGS_PER_SUPPLY}"}
            ports.append(port.model_copy(update=fed))
            shared += 1
        controllers.append(controller.model_copy(update={"ports": tuple(ports)}))
    names = (f"supply {row}" for row in range(-(-shared // STRINGS_PER_SUPPLY)))
    supplies = tuple(Supply(name=name, volts=5, amps=SUPPLY_A) for name in names)
    return display.model_copy(update={"controllers": tuple(controllers), "supplies": supplies})


def _row(pattern: str, universes: int, stages: Stages) -> list[str]:
    shares = [f"{stage:.0f} ({stage / sum(stages):.0%})" for stage in stages]
    return [
        f"{pattern}, {universes}",
        *shares,
        f"{sum(stages):.0f}",
        f"{sum(stages[2:4]) * RATE_HZ / 1e6:.1%}",
    ]


def main() -> None:
    """Measure, and print a table or JSON."""
    found = measured()
    plain = [
        {"pattern": pattern, "universes": universes, "us": dict(zip(STAGES, stages, strict=True))}
        for (pattern, universes), stages in found.items()
    ]
    heads = ["us a frame (its share)", *STAGES, "all", "limits and guard, of a frame at 40 Hz"]
    print_found(plain, heads, [_row(*key, stages) for key, stages in found.items()])


if __name__ == "__main__":
    main()
