"""The yard's loop, which owns its clock and its sockets."""

import select
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, closing

from streamer.display.model import Display
from streamer.ending import ending_signals
from streamer.yard.faults import Fault
from streamer.yard.service import Service
from streamer.yard.sockets import YardSockets
from streamer.yard.yard import Yard

TURN_S = 0.02
"""The longest wait: a signal is noticed, and a silent source, within this time."""
EXPIRE_S = 0.1
OUT_S = 1.0

Out = Callable[[Yard, float, float], None]
"""Is called with the yard, the seconds since the start and the time."""


def run(  # noqa: PLR0913  each is a choice of its own, given by name
    display: Display,
    *,
    faults: Mapping[str, Sequence[Fault]],
    link_name: str | None,
    started_by: str = "",
    seconds: float | None = None,
    out: Out | None = None,
) -> None:
    """Hold a yard open until a signal, a client or the end of `seconds` ends it.

    `link_name` is where clients find it; without one they cannot. `out` is called once a second.
    Raises NetworkError for a taken port, PlanError for faults that cannot be, LinkError for a name that is
    in use; whatever happens, ports are freed and files taken away.
    """
    yard = Yard(display)
    for port, given in faults.items():
        yard.set_faults(port, given)
    with ExitStack() as stack:
        has_signal = stack.enter_context(ending_signals())
        sockets = stack.enter_context(YardSockets(yard))
        start_s = time.monotonic()
        service = None
        if link_name is not None:
            service = stack.enter_context(closing(Service(yard, link_name, started_by, start_s)))
        out_s = start_s
        for now in _turns(yard, sockets, service):
            if out and now - out_s >= OUT_S:
                # Not in a burst where this process stood still.
                out_s = max(out_s + OUT_S, now - OUT_S / 2)
                out(yard, now - start_s, now)
            if has_signal() or (seconds is not None and now - start_s >= seconds):
                break


def _turns(yard: Yard, sockets: YardSockets, service: Service | None) -> Iterator[float]:
    """Do what there is to do, and yield the time after each turn, until the clients need no more."""
    expired_s = now = time.monotonic()
    while not (service and service.is_done(now)):
        _wait(sockets, service)
        now = time.monotonic()
        if now - expired_s >= EXPIRE_S:
            expired_s = now
            yard.expire(now)
        arrived = sockets.poll(now)
        if service:
            service.serve(now, has_news=arrived > 0, trouble=sockets.trouble)
        yield now


def _wait(sockets: YardSockets, service: Service | None) -> None:
    filenos = sockets.filenos() + (service.filenos() if service else [])
    # A client that was just cut off stays in the list, with -1, until the next turn.
    select.select([fileno for fileno in filenos if fileno >= 0], [], [], TURN_S)
