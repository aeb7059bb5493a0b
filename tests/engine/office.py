"""A desk under a fake clock, with clients who come and go."""

from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel

from streamer.engine.desk import Desk
from streamer.engine.host import Host
from streamer.engine.messages import Hello, Request
from streamer.link.newest import NewestFrame
from tests.engine.bench import CID, Bench

Kind = TypeVar("Kind", bound=BaseModel)


class FakeClient:
    """A client of the desk, which notes what it is told."""

    def __init__(self) -> None:
        self.told: list[BaseModel] = []
        self.is_waiting = False

    def send(self, message: BaseModel) -> None:
        """Note a report."""
        self.told.append(message)

    def last(self, kind: type[Kind]) -> Kind:
        """Return the latest report of a kind."""
        return next(report for report in reversed(self.told) if isinstance(report, kind))

    def count(self, kind: type[BaseModel]) -> int:
        """Return how many reports of a kind have come."""
        return sum(isinstance(report, kind) for report in self.told)


class Office:
    """A desk under a fake clock, with clients who come and go."""

    def __init__(self, folder: Path) -> None:
        self.bench = Bench()
        self.now_s = 1000.0
        self.connected: list[FakeClient] = []
        self.frames: list[NewestFrame] = []
        self.folder = folder
        self.cpu_s = 0.0
        host = Host("as the test likes it", lambda: self.cpu_s)
        self.desk = Desk(CID, self.bench.outlet, self.share, host, self.now_s)

    def share(self, nodes: int, channels: int, laid_by: int) -> NewestFrame:
        """Make a shared frame in the folder of the test."""
        path = self.folder / f"{len(self.frames)}.frame"
        self.frames.append(NewestFrame.create(path, nodes, channels, laid_by))
        return self.frames[-1]

    def come(self, name: str = "screen", *, control: bool = True) -> FakeClient:
        """Let a client connect and say hello."""
        client = FakeClient()
        self.connected.append(client)
        self.ask(client, Hello(client=name, control=control))
        return client

    def ask(self, client: FakeClient, request: Request) -> None:
        """Let a client ask for something."""
        self.desk.serve(client, request, self.now_s)
        self.desk.tick(self.connected, self.now_s)

    def go(self, client: FakeClient) -> None:
        """Let a client disappear."""
        self.connected.remove(client)
        self.desk.tick(self.connected, self.now_s)

    def pass_time(self, seconds: float) -> None:
        """Let time pass from waking to waking, as the process does."""
        until_s, turns = self.now_s + seconds, 0
        while not self.desk.is_done and (wake_s := self.desk.wake_s) <= until_s:
            self.now_s = max(self.now_s, wake_s)
            self.desk.tick(self.connected, self.now_s)
            turns += 1
            assert turns < 100 * (seconds + 1), "it spins"
        self.now_s = until_s
        self.bench.tick()

    def play_for(self, seconds: float) -> None:
        """Let time pass as the process does: a tick, then what is ready departs."""
        until_s = self.now_s + seconds
        while self.now_s < until_s:
            attention_s = self.desk.attention_s
            has_all_gone = self.desk.depart(self._wait, attention_s)
            if not self.desk.has_to_tell(self.now_s):
                self._wait(attention_s if has_all_gone else self.desk.wake_s)
            self.desk.tick(self.connected, self.now_s)

    def _wait(self, moment_s: float) -> float:
        self.now_s = max(self.now_s, moment_s)
        return self.now_s
