"""The listener's loop, which owns its clock: in the command's own process, or in one started for a client.

`python -m streamer.hear.process NAME CLIENT` reads a wish as JSON from standard input, and ends when
nobody is attached any more.
"""

import gc
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing

from pydantic import ValidationError

from streamer.ending import ending_signals
from streamer.errors import PlanError, Problem
from streamer.hear.client import SUFFIX
from streamer.hear.ears import PORTS, Ears, Tap
from streamer.hear.messages import Heard
from streamer.hear.service import Service
from streamer.hear.table import Table
from streamer.hear.wish import Wish
from streamer.link.processes import as_process
from streamer.net.interfaces import find_interface, list_interfaces
from streamer.net.who import holder_of_udp_port

TELL_S = 1.0
LEAST_WINDOW_S = 0.5
"""Rates of a shorter time say little: the second before it is told again."""

Out = Callable[[Heard], None]
"""Is called once a second with all that is heard."""
Prepare = Callable[[Table], None]


def run(  # noqa: PLR0913  each is a choice of its own, given by name
    wish: Wish,
    *,
    out: Out | None = None,
    prepare: Prepare | None = None,
    tap: Tap | None = None,
    seconds: float | None = None,
    link_name: str | None = None,
    started_by: str = "",
) -> Heard:
    """Listen until a signal, a client or the end of `seconds` ends it; return what was heard at the end.

    `prepare` may set up the table, `tap` is given all that is read. Raises NetworkError for a taken port or
    an interface that is not there, LinkError for a name that is in use, and what `tap` raises; whatever
    happens, ports are freed and files taken away.
    """
    interface = find_interface(wish.interface) if wish.interface else None
    began_s = time.monotonic()
    table = Table(wish.universes, began_s, interface.name if interface else "", discover=wish.discover)
    joined_by = tuple(each for each in list_interfaces() if each.name in wish.joined_by)
    ears = Ears(table, interface, joined_by=joined_by, tap=tap)
    if prepare:
        prepare(table)
    with ExitStack() as stack:
        has_signal = stack.enter_context(ending_signals())
        ears.beside = {protocol: holder_of_udp_port(PORTS[protocol]) or "" for protocol in wish.protocols}
        ears.open(stack, wish.protocols)
        service = None
        if link_name is not None:
            service = stack.enter_context(closing(Service(ears, link_name, started_by, time.monotonic())))
        # What is here stays; nothing that is heard makes circles, so there is no need to look for them.
        gc.freeze()
        for now, heard in _seconds(table, ears, service):
            if out and heard:
                out(heard)
            if has_signal() or (seconds is not None and now - began_s >= seconds):
                break
        now = time.monotonic()
        if now - table.window_s >= LEAST_WINDOW_S:
            table.close_window(now)
        return ears.heard(now)


def _seconds(table: Table, ears: Ears, service: Service | None) -> Iterator[tuple[float, Heard | None]]:
    """Listen, and yield the time after each turn; once a second with all that is heard."""
    now = told_s = time.monotonic()
    while not (service and service.is_done(now)):
        ears.wait(service.filenos() if service else ())
        ears.poll()
        now = time.monotonic()
        if service:
            service.serve(now)
        heard = None
        if now - told_s >= TELL_S:
            # Not in a burst where this process stood still: rates are of half a second at least.
            told_s = max(told_s + TELL_S, now - TELL_S + LEAST_WINDOW_S)
            ears.join(now)
            table.close_window(now)
            heard = ears.heard(now)
            if service:
                service.tell(heard, now)
        yield now, heard


def read_wish(octets: bytes) -> Wish:
    """Read a wish from JSON; PlanError for anything else."""
    try:
        return Wish.model_validate_json(octets)
    except ValidationError as error:
        raise PlanError([Problem("standard input", f"is no wish: {error}", "Write one as JSON")]) from error


def main() -> int:
    """Run the listener called by the first argument, for the client in the second."""
    name, started_by = sys.argv[1], "".join(sys.argv[2:3])
    return as_process(
        lambda: run(read_wish(sys.stdin.buffer.read()), link_name=name, started_by=started_by), name, SUFFIX
    )


if __name__ == "__main__":
    sys.exit(main())
