"""Stand-ins for the engine and the yard: they keep what was asked and answer with what a test gives them."""

import socket
from collections.abc import Sequence
from pathlib import Path
from typing import Generic, TypeVar

import numpy as np
from pydantic import BaseModel

from patterns.plain import COMPONENTS, Frame
from streamer.display.model import Addressing, Controller, Display, Fixture, Port, Protocol, Role, Segment
from streamer.engine.flash_limit import flash_limit
from streamer.engine.messages import (
    Calm,
    Change,
    Counts,
    Dark,
    Jump,
    Lateness,
    LatenessBin,
    Loosen,
    Pause,
    Plan,
    Play,
    Report,
    Setup,
    Show,
    State,
    Status,
    Step,
    Stop,
    TakeControl,
)
from streamer.link.newest import NewestFrame
from streamer.yard.messages import PortSeen, YardStatus
from streamer.yard.messages import Report as YardReport

STEPS = 120
BINS = (
    *((50.0, 0), (100.0, 5000), (200.0, 6321), (500.0, 1000), (1000.0, 20)),
    *((2000.0, 3), (5000.0, 1), (10_000.0, 0), (20_000.0, 0), (None, 0)),
)


Said = TypeVar("Said", bound=BaseModel)
Kind = TypeVar("Kind", bound=BaseModel)


class FakeLink(Generic[Said]):
    """A link whose other end is the test; `say` makes it readable, as a socket would be."""

    is_waiting = False

    def __init__(self) -> None:
        self.name = "screen"
        self.is_open = True
        self.asked: list[BaseModel] = []
        self._waiting: list[Said] = []
        self._ours, self._theirs = socket.socketpair()
        self._ours.setblocking(False)

    def fileno(self) -> int:
        """Return the descriptor to wait on."""
        return self._ours.fileno()

    def flush(self) -> None:
        """Nothing waits."""

    def send(self, message: BaseModel) -> None:
        self.asked.append(message)

    def say(self, *reports: Said) -> None:
        self._waiting += reports
        self._theirs.send(b"!")

    def receive(self) -> list[Said]:
        if not self._ours.recv(4096):
            self.is_open = False
        said, self._waiting = self._waiting, []
        return said

    def give_back(self, reports: Sequence[Said], /) -> None:
        self._waiting = [*reports, *self._waiting]

    def last(self, kind: type[Kind]) -> Kind:
        """Return what was asked last, which is of this kind."""
        asked = self.asked[-1]
        assert isinstance(asked, kind)
        return asked

    def is_asked_last(self, request: BaseModel) -> bool:
        """Whether this was asked last."""
        return bool(self.asked) and self.asked[-1] == request

    def vanish(self) -> None:
        self._theirs.close()

    def close(self) -> None:
        self.is_open = False
        self._ours.close()
        self._theirs.close()


class FakeEngine(FakeLink[Report]):
    """An engine that does as it is asked, at once and without any light."""

    def __init__(self, folder: Path) -> None:
        super().__init__()
        self._path = folder / "sent.frame"
        self._frame: NewestFrame | None = None
        self.cid = ""
        self.is_slow = False
        """Whether frames go out only when a test says so."""
        self.plans = 0
        self.status = Status(state=State.IDLE, show=None, yours=True, control="screen")

    def send(self, message: BaseModel) -> None:  # noqa: C901  a case for each request
        """Do as asked, and report."""
        super().send(message)
        match message:
            case Play():
                self._play(message.setup, message.show)
            case Change():
                self.tell(show=message.show)
            case Step():
                self.tell(state=State.IN_HAND, step=(self.status.step + message.by) % STEPS)
            case Jump():
                self.tell(state=State.IN_HAND, step=message.step % STEPS)
                if not self.is_slow:
                    self.send_frames()
            case Pause():
                self.tell(state=State.IN_HAND if message.on else State.RUNNING)
            case Dark():
                self.tell(state=State.DARK if message.on else State.RUNNING)
            case Stop():
                self.tell(state=State.IDLE, show=None, plan=0)
            case TakeControl():
                self.tell(yours=True, control="screen")
            case Calm() | Loosen():
                self.tell(**message.model_dump(exclude={"kind"}))

    def _play(self, setup: Setup, show: Show) -> None:
        nodes = sum(port.nodes for port in setup.display.ports)
        channels = sum(len(each.channels) for at in setup.display.controllers for each in at.fixtures)
        self._frame = NewestFrame.create(self._path, nodes, channels)
        self.plans += 1
        self.say(Plan(number=self.plans, setup=setup, frame_path=str(self._path), cid=self.cid))
        self.tell(
            state=State.RUNNING,
            plan=self.plans,
            show=show,
            steps=STEPS,
            step=0,
            pace=5.0,
            universes=8,
            route="lo",
            flashes_per_s=flash_limit(setup),
        )

    def tell(self, **changes: object) -> None:
        """Report a changed status, with a line that goes with its step."""
        self.status = self.status.model_copy(update=changes)
        line = f"node {self.status.step + 1} of {STEPS}" if self.status.show else ""
        self.status = self.status.model_copy(update={"now_showing": line})
        self.say(self.status)

    def send_frames(self) -> None:
        """Report that frames have gone out since."""
        counts = self.status.counts
        self.tell(counts=counts.model_copy(update={"frames": counts.frames + 2}))

    def shine(self, nodes: np.ndarray, channels: tuple[int, ...] = ()) -> None:
        """Put a picture into the shared frame."""
        assert self._frame is not None
        self._frame.write(Frame(nodes, np.array(channels, np.uint8)))


def counted(status: Status) -> Status:
    """Return the status with counts that can be told apart."""
    return status.model_copy(
        update={
            "counts": Counts(
                frames=12345, late=2, skipped=1, held=3, packets=98765, errors={"ENETUNREACH": 4}
            ),
            "lateness": Lateness(
                p50_us=110,
                p90_us=190,
                p99_us=330,
                p999_us=900,
                max_us=2140,
                bins=tuple(LatenessBin(up_to_us=up_to_us, frames=frames) for up_to_us, frames in BINS),
            ),
        }
    )


class FakeYard(FakeLink[YardReport]):
    """A yard that shows what a test gives it."""

    def __init__(self, folder: Path, display: Display) -> None:
        super().__init__()
        self._display = display
        self._frame = NewestFrame.create(
            folder / "arrived.frame", sum(each.nodes for each in display.ports), 4
        )

    def shine(
        self, nodes: np.ndarray, channels: tuple[int, ...] = (0, 0, 0, 0), faults: tuple[str, ...] = ()
    ) -> None:
        """Put a picture into the shared frame and report, with these faults on the first port."""
        self._frame.write(Frame(nodes, np.array(channels, np.uint8)))
        seen = tuple(
            PortSeen(
                name=port.name, packets=10, lost=0, discarded=0, is_live=True, lit=1,
                faults=faults if index == 0 else (),
            )
            for index, port in enumerate(self._display.ports)
        )  # fmt: skip
        self.say(YardStatus(frame_path=str(self._frame.path), ports=seen))


def port(  # noqa: PLR0913, PLR0917  a port has that much to say
    name: str, number: int, universe: int, nodes: int, label: str = "", order: str = "RGB"
) -> Port:
    """Return a port of one segment."""
    return Port(
        name=name,
        number=number,
        universe=universe,
        label=label,
        colour_order=order,
        segments=(Segment(nodes=nodes),),
    )


def boathouse(address: str = "127.0.0.1") -> Display:
    """Return a display of two controllers: a boathouse by a lake."""
    jetty = Controller(
        name="jetty", protocol=Protocol.E131, address=address,
        ports=(
            port("jetty/1", 1, 1, 120, "west rail"), port("jetty/2", 2, 2, 120, "east rail"),
            port("jetty/3", 3, 3, 90, "steps"), port("jetty/4", 4, 4, 60, "lamp posts", "GRB"),
        ),
    )  # fmt: skip
    roof = Controller(
        name="roof", protocol=Protocol.ARTNET, address=address, addressing=Addressing.PACKED,
        ports=(
            port("roof/1", 1, 16, 150, "lake gable"), port("roof/2", 2, 17, 200, "yard gable", "RGBW"),
        ),
        fixtures=(
            Fixture(name="flood", universe=20, channels=(Role.DIMMER, Role.RED, Role.GREEN, Role.BLUE)),
        ),
    )  # fmt: skip
    return Display(name="boathouse", controllers=(jetty, roof))


def walking(display: Display, node: int, colour: tuple[int, int, int] = (76, 0, 0)) -> np.ndarray:
    """Return the nodes of a picture in which one node of every string is lit, from 0."""
    nodes = np.zeros((sum(each.nodes for each in display.ports), COMPONENTS), np.uint8)
    start = 0
    for each in display.ports:
        if node < each.nodes:
            nodes[start + node, :3] = colour
        start += each.nodes
    return nodes


__all__ = ["STEPS", "FakeEngine", "FakeYard", "Report", "boathouse", "counted", "port", "walking"]
