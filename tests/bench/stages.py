"""What each stage of a frame costs: the pattern, the limits, the flash guard, the patch, and sending.

`python -m tests.bench.stages [--quick] [--json]`. In this process, set up like an engine's, frame after
frame, so that caches are warm; to a reader on loopback. Ten seconds, or three. The limits and the flash guard
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

from patterns.plain import Moment
from patterns.registry import get, settle
from streamer.display.model import Protocol
from streamer.display.patch import compile_patch
from streamer.display.ranges import display_from_ranges
from streamer.engine.guard import FlashGuard
from streamer.engine.limits import Limits
from streamer.engine.messages import Setup
from streamer.engine.punctuality import this_system
from streamer.engine.streams import Streams
from streamer.net.batched import open_sender
from streamer.wire import e131
from tests.bench.engines import ADDRESS
from tests.bench.measuring import IS_QUICK, SENDERS_CORE, compiled, pin, print_found, reading

UNIVERSES = (10, 1000)
PATTERNS = ("walk", "ramp", "sweep", "probe", "tint")
STAGES = ("pattern", "limits", "flash guard", "patch", "sending")
LEVEL_PERCENT = 30.0
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
    display = display_from_ranges(tuple(range(1, universes + 1)), Protocol.E131, (ADDRESS,))
    pattern, patch, sender = get(pattern_name), compile_patch(display), open_sender(None)
    params, layout = settle(pattern, {}), patch.layout
    limits, guard = Limits(layout, LEVEL_PERCENT, None), FlashGuard(len(layout.place), 0)
    streams = Streams(patch, uuid4(), Setup(display=display, every_frame=True))
    for number in range(WARM_FRAMES + FRAMES):
        moments = [time.process_time()]
        frame = pattern.render(layout, Moment(number, 0.0), params)
        moments.append(time.process_time())
        frame = limits.apply(frame)
        moments.append(time.process_time())
        frame = guard.admit(frame, number / RATE_HZ)
        moments.append(time.process_time())
        due = streams.at_frame(frame, guard.altered, number / RATE_HZ)
        moments.append(time.process_time())
        for batch, rows in due:
            for first in range(0, len(rows), PIECE):
                batch.send(rows[first : first + PIECE], sender)
        moments.append(time.process_time())
        yield np.diff(moments).tolist()
    sender.close()


def _row(pattern: str, universes: int, stages: Stages) -> list[str]:
    shares = [f"{stage:.0f} ({stage / sum(stages):.0%})" for stage in stages]
    return [
        f"{pattern}, {universes}",
        *shares,
        f"{sum(stages):.0f}",
        f"{sum(stages[1:3]) * RATE_HZ / 1e6:.1%}",
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
