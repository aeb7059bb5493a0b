"""What `ropewalk prove` does: puts up each look, asks, and writes down the answer before it goes on."""

from collections.abc import Callable
from datetime import datetime

from streamer.cli.asking import LEAVE, SKIP, UNDO, Asker
from streamer.errors import PlanError
from streamer.prove.checks import Look
from streamer.prove.noted import NotedWalk


def walk_through(
    noted: NotedWalk, put_up: Callable[[Look], None], asker: Asker, now: Callable[[], datetime]
) -> None:
    """Walk until no look is left or the asker leaves; then say how everything stands.

    `put_up` returns when a look can be seen.
    """
    shown: Look | None = None
    while check := noted.walk.current:
        if check.look != shown:
            put_up(check.look)
            shown = check.look
        key = asker.ask(check, noted.walk)
        if key is None or key == LEAVE:
            break
        _take(noted, asker, key, now())
    asker.close(noted.walk)


def _take(noted: NotedWalk, asker: Asker, key: str, at: datetime) -> None:
    try:
        if key == UNDO:
            entry = noted.undo(at)
        elif key == SKIP:
            entry = noted.skip(at)
        else:
            entry = noted.answer(key, at)
    except PlanError as error:
        asker.refuse(error)
        return
    if entry:
        asker.note(entry)
