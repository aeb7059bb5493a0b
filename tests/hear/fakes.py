"""Stand-ins for listeners: they keep what was asked, and say what a test gives them."""

import errno
from collections.abc import Sequence

from pydantic import BaseModel

from streamer.errors import LinkError
from streamer.hear.messages import Heard, Refused
from streamer.hear.wish import Wish


class FakeListener:
    """A listener's link: it keeps what was asked, and says what a test gives it."""

    def __init__(self) -> None:
        self.is_open, self.is_waiting, self.name = True, False, ""
        self.asked: list[BaseModel] = []
        self.says: list[Heard | Refused] = []

    def send(self, message: BaseModel) -> None:
        """Keep it."""
        self.asked.append(message)

    def receive(self) -> list[Heard | Refused]:
        """Say it."""
        said, self.says = self.says, []
        return said

    def give_back(self, reports: Sequence[Heard | Refused], /) -> None:
        """Say them again."""
        self.says = [*reports, *self.says]

    def flush(self) -> None:
        """Nothing waits."""

    def fileno(self) -> int:
        """There is none."""
        raise OSError(errno.EBADF, "no descriptor")

    def close(self) -> None:
        """Close it."""
        self.is_open = False


class Starter:
    """Starts fake listeners, or refuses to."""

    def __init__(self) -> None:
        self.started: list[tuple[Wish, FakeListener]] = []
        self.refusal = ""

    def __call__(self, wish: Wish, _client: str, _name: str, /) -> FakeListener:
        """Start one."""
        if self.refusal:
            raise LinkError(self.refusal)
        self.started.append((wish, FakeListener()))
        return self.started[-1][1]

    @property
    def listener(self) -> FakeListener:
        """Return the last one."""
        return self.started[-1][1]
