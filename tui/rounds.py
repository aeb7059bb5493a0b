"""Going through several ports: a search after the other as one session, and at the end what came of all."""

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from typing import TYPE_CHECKING

from streamer.display.model import Display
from streamer.engine.messages import Setup
from streamer.find.rounds import summary
from streamer.find.telling import named
from tui.finding import CORRECT, FindSession
from tui.session import Look, Page

if TYPE_CHECKING:
    from patterns.plain import Bytes

NEXT = "n"
Search = Callable[[Setup, str, Callable[[Display], None]], FindSession]
"""Makes the search of a port; what it is given last is told the display when its file was corrected."""


class RoundSession:
    """Searches port after port. Verdicts are kept; s leaves a port out, undo goes back to the one before.

    The next search is made while a person answers: nobody waits between ports.
    """

    def __init__(
        self, setup: Setup, ports: tuple[str, ...], search: Search, rewritten: Callable[[Display], None]
    ) -> None:
        self._setup, self._ports, self._new_search, self._tell = setup, ports, search, rewritten
        self._pool = ThreadPoolExecutor(max_workers=1)
        self._searches = [search(setup, ports[0], self._renew)]
        self._at = 0
        """Which port it is; as many as there are ports when it is over."""
        self._coming = self._make_ready()

    def _make_ready(self) -> "Future[FindSession] | None":
        """Begin to make the search after the last one that there is."""
        if len(self._searches) >= len(self._ports):
            return None
        return self._pool.submit(self._new_search, self._setup, self._ports[len(self._searches)], self._renew)

    @property
    def _search(self) -> FindSession | None:
        return self._searches[self._at] if self._at < len(self._ports) else None

    @property
    def look(self) -> Look | None:
        """The picture of the search on this port."""
        return self._search.look if self._search else None

    @property
    def page(self) -> Page:
        """The question or the verdict of this port; in the end what came of all."""
        if self._search is None:
            return Page(
                place=f"{len(self._ports)} ports",
                done=1.0,
                told="",
                question="",
                answers=(),
                outcome=self._summary(),
                title="Find: all ports",
            )
        page = self._search.page
        title = f"Find {self._at + 1}/{len(self._ports)}: {named(self._setup.display, self._search.port)}"
        answers = page.answers
        if page.outcome:
            answers = ((NEXT, self._next_words()), *(each for each in answers if each[0] == CORRECT))
        return replace(page, answers=answers, title=title)

    def _next_words(self) -> str:
        if self._at + 1 < len(self._ports):
            return f"next port: {named(self._setup.display, self._ports[self._at + 1])}"
        return "what came of all ports"

    def _summary(self) -> tuple[str, ...]:
        verdicts = {each.port: each.verdict for each in self._searches}
        return summary(self._setup.display, {port: verdicts.get(port) for port in self._ports})

    @property
    def cells(self) -> "Bytes | None":
        """What each node of the string is sent."""
        return self._search.cells if self._search else None

    @property
    def why(self) -> tuple[str, ...]:
        """The reasons on this port, or the summary."""
        return self._search.why if self._search else self._summary()

    def answer(self, key: str) -> None:
        """Take an answer, or go on to the next port."""
        if key == NEXT:
            self._go_on()
        elif self._search:
            self._search.answer(key)

    def _renew(self, display: Display) -> None:
        """Go on with another display: what was made ready for the old one is made anew."""
        self._setup = self._setup.model_copy(update={"display": display})
        self._tell(display)
        del self._searches[self._at + 1 :]
        if self._coming is not None:
            self._coming.cancel()
        self._coming = self._make_ready()

    def _go_on(self) -> None:
        if self._at + 1 == len(self._searches) and self._coming is not None:
            self._searches.append(self._coming.result())
            self._coming = self._make_ready()
        self._at += 1

    def skip(self) -> bool:
        """Leave this port out."""
        if self._search is None:
            return False
        self._go_on()
        return True

    def undo(self) -> bool:
        """Take back the last answer, or go back to the port before."""
        if self._search and self._search.undo():
            return True
        if self._at:
            self._at -= 1
            return True
        return False

    def close(self) -> None:
        """Let the one that makes searches ready go."""
        self._pool.shutdown(wait=False, cancel_futures=True)
