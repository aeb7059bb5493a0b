"""Who is attached to an engine, who holds control, and since when nobody minds it. Time is an argument.

Whoever has asked for control minds the run, and a leashed one lives no longer than they are there. Others
only look: however often they come, they keep no lights lit.
"""

from collections.abc import Iterable, Iterator
from typing import Protocol

from pydantic import BaseModel

from streamer.display.places import plain
from streamer.engine.messages import Hello

GRACE_S = 1.5
"""How long a leashed run waits for somebody to mind it again. Lights are promised to be dark 2 s after their
client was killed; half a second is for a busy machine to notice it, and to send the dark."""
FIRST_CLIENT_S = 10.0
"""How long a new engine waits for the one who started it."""


class Client(Protocol):
    """What an engine needs of a connected client; `streamer.link.channel.Channel` is one."""

    @property
    def is_waiting(self) -> bool:
        """Whether something could not be sent to it yet."""

    def send(self, message: BaseModel, /) -> None:
        """Tell it something; never blocks."""


class Attendance:
    """The clients who have said hello."""

    def __init__(self, now_s: float) -> None:
        self._names: dict[Client, str] = {}
        self._minders: set[Client] = set()
        self.holder: Client | None = None
        self._left_s = now_s + FIRST_CLIENT_S - GRACE_S

    def __iter__(self) -> Iterator[Client]:
        """Yield the clients, in the order in which they came."""
        return iter(self._names)

    def __contains__(self, client: Client) -> bool:
        """Say whether a client has said hello."""
        return client in self._names

    @property
    def names(self) -> tuple[str, ...]:
        """How the clients call themselves, control characters neutralised."""
        return tuple(self._names.values())

    @property
    def holder_name(self) -> str:
        """Who holds control; empty when nobody does."""
        return self._names[self.holder] if self.holder else ""

    @property
    def grace_over_s(self) -> float:
        """The moment at which nobody is expected back; infinite while somebody minds the run."""
        return float("inf") if self._minders else self._left_s + GRACE_S

    def greet(self, client: Client, hello: Hello) -> None:
        """Take a client in; control is its own if it wants that and nobody holds it."""
        self._names[client] = plain(hello.client)
        if hello.control:
            self._minders.add(client)
            self.holder = self.holder or client

    def give_control(self, client: Client) -> None:
        """Let a client hold control, whoever held it; from now on it minds the run."""
        self._minders.add(client)
        self.holder = client

    def notice(self, connected: Iterable[Client], now_s: float) -> bool:
        """Let go of those who are not connected any more; say whether that leaves nobody to mind the run."""
        gone = self._names.keys() - frozenset(connected)
        for client in gone:
            del self._names[client]
        if self.holder in gone:
            self.holder = None
        if not self._minders & gone:
            return False
        self._minders -= gone
        self._left_s = now_s
        return not self._minders
