"""Leads a session in a thread of its own: the screen stays awake while it thinks."""

import asyncio
from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tui.session import Look, Page, Session

if TYPE_CHECKING:
    from patterns.plain import Bytes


@dataclass(frozen=True, slots=True)
class Moment:
    """What a session asks and shows at one moment."""

    page: Page
    look: Look | None
    cells: "Bytes | None"


class Leader:
    """Has one session made, and leads it step by step. RopewalkError from any step has changed nothing.

    A logbook that a session opens belongs to the thread that opened it, so all is done in one.
    """

    def __init__(self, begin: Callable[[], Session]) -> None:
        self._begin = begin
        self._session: Session | None = None
        self._pool = ThreadPoolExecutor(max_workers=1)

    def begin(self) -> Awaitable[Moment]:
        """Make the session, and return its first moment."""
        return self.take(lambda _session: None)

    def take(self, step: Callable[[Session], object]) -> Awaitable[Moment]:
        """Do something with the session, and return the moment after it.

        It is done also where nobody waits for that any more: an answer counts, though the screen was left.
        """
        return asyncio.shield(asyncio.wrap_future(self._pool.submit(self._taken, step)))

    def _taken(self, step: Callable[[Session], object]) -> Moment:
        if self._session is None:
            self._session = self._begin()
        session = self._session
        step(session)
        return Moment(session.page, session.look, session.cells)

    async def why(self) -> tuple[str, ...]:
        """Return the reasons."""
        return await asyncio.wrap_future(self._pool.submit(self._reasons))

    def _reasons(self) -> tuple[str, ...]:
        return self._session.why if self._session else ()

    def close(self) -> None:
        """Have the session closed once it is done with what it does; nobody waits for that."""
        self._pool.submit(self._closed)
        self._pool.shutdown(wait=False)

    def _closed(self) -> None:
        if self._session is not None:
            self._session.close()
