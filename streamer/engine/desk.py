"""The engine's front desk: who is attached, who holds control, and what they ask of the run.

It decides when the run ends because nobody is attached. Time is an argument.
"""

from collections.abc import Callable
from uuid import UUID

from pydantic import BaseModel

from patterns.plain import PatternError
from streamer.engine.engine import Run
from streamer.engine.messages import (
    Change,
    Dark,
    Ended,
    Hello,
    Jump,
    Leash,
    Loosen,
    Pause,
    Plan,
    Play,
    Refused,
    Request,
    State,
    Status,
    Step,
    Stop,
    TakeControl,
)
from streamer.engine.outlet import OpenOutlet
from streamer.errors import RopewalkError
from streamer.link.channel import Channel
from streamer.link.newest import NewestFrame

GRACE_S = 2.0
"""How long a leashed run waits for somebody to attach again: an ssh session takes about that to return."""
FIRST_CLIENT_S = 10.0
STATUS_PERIOD_S = 0.2

Client = Channel[Request]
SharedFrame = Callable[[int, int], NewestFrame]
"""Makes the shared frame of a plan, given how many nodes and channels it has."""


class Desk:
    """Serves the clients of one engine."""

    def __init__(self, cid: UUID, open_outlet: OpenOutlet, share: SharedFrame, now_s: float) -> None:
        self._cid = cid
        self._open_outlet = open_outlet
        self._share = share
        self._names: dict[Client, str] = {}
        self._holder: Client | None = None
        self._run: Run | None = None
        self._leaving: list[Run] = []
        self._frame: NewestFrame | None = None
        self._plan = 0
        self._leash = Leash.LEASHED
        self._alone_since_s = now_s + FIRST_CLIENT_S - GRACE_S
        self._status_s = now_s
        self._closing = False

    @property
    def wake_s(self) -> float:
        """The moment at which something is due next."""
        moments = [self._status_s] if self._names else [self._alone_since_s + GRACE_S]
        moments += [run.wake_s for run in (self._run, *self._leaving) if run]
        return min(moments)

    @property
    def is_done(self) -> bool:
        """Whether the engine has no more to do: no run, and nobody who could ask for one."""
        return self._closing and self._run is None and not self._leaving

    def tick(self, clients: list[Client], now_s: float) -> None:
        """Let what is due happen, with these clients attached."""
        self._notice_leavers(clients, now_s)
        for run in (self._run, *self._leaving):
            if run:
                run.tick(now_s)
        self._share_frame()
        self._finish_ended(now_s)
        if now_s >= self._status_s:
            self._status_s = now_s + STATUS_PERIOD_S
            self._tell_status(now_s)

    def end(self, reason: str, now_s: float) -> None:
        """Begin to end the run and the engine."""
        self._closing = True
        if self._run:
            self._run.end(reason, now_s)

    def close(self) -> None:
        """Take away what is shared and close the sockets."""
        for run in (self._run, *self._leaving):
            if run:
                run.close()
        if self._frame:
            self._frame.remove()

    def _notice_leavers(self, clients: list[Client], now_s: float) -> None:
        gone = [client for client in self._names if client not in clients]
        for client in gone:
            del self._names[client]
        if self._holder in gone:
            self._holder = None
        if gone and not self._names:
            self._alone_since_s = now_s
        is_alone = not self._names and now_s >= self._alone_since_s + GRACE_S
        idle = self._run is None
        if is_alone and not self._closing and (idle or self._leash is Leash.LEASHED):
            self.end("nobody is attached", now_s)
        elif idle and not self._names and gone:
            self.end("nobody is attached", now_s)

    def _share_frame(self) -> None:
        if self._run and self._frame and self._run.newest:
            self._frame.write(self._run.newest)
            self._run.newest = None

    def _finish_ended(self, now_s: float) -> None:
        for run in [run for run in self._leaving if run.is_over]:
            self._leaving.remove(run)
            run.close()
        if self._run and self._run.is_over:
            self._tell_all(_ended(self._run, now_s))
            self._run.close()
            self._run = None
            self._tell_status(now_s)

    def serve(self, client: Client, request: Request, now_s: float) -> None:
        """Do what a client asks, or say why not."""
        try:
            self._serve(client, request, now_s)
        except (RopewalkError, PatternError) as error:
            client.send(Refused(request=request.kind, reason=str(error)))
        self._tell_status(now_s)

    def _serve(self, client: Client, request: Request, now_s: float) -> None:
        match request:
            case Hello():
                self._greet(client, request)
            case TakeControl():
                self._holder = client
            case _ if client is not self._holder:
                raise RopewalkError(f"{self._holder_name or 'Nobody'} holds control. Take control first.")
            case Play():
                self._play(request, now_s)
            case Loosen(leash=leash):
                self._leash = leash
            case _ if self._run is None or self._run.ending_reason:
                raise RopewalkError("Nothing is playing. Start first.")
            case Change() | Step() | Jump() | Pause() | Dark() | Stop():
                self._direct(self._run, request, now_s)

    def _greet(self, client: Client, hello: Hello) -> None:
        self._names[client] = hello.client
        if hello.control and self._holder is None:
            self._holder = client
        if self._run and self._frame:
            client.send(self._plan_report(self._run, self._frame))

    def _play(self, play: Play, now_s: float) -> None:
        run = Run(play.setup, play.show, self._open_outlet(play.setup), self._cid, now_s, self._run)
        if self._run:
            self._run.end("another run began", now_s, frozenset(run.keys()))
            self._leaving.append(self._run)
        if self._frame:
            self._frame.remove()
        self._run, self._leash, self._plan = run, play.setup.leash, self._plan + 1
        self._frame = self._share(int(run.planned.sum()), run.channels)
        self._tell_all(self._plan_report(run, self._frame))

    @staticmethod
    def _direct(run: Run, request: Change | Step | Jump | Pause | Dark | Stop, now_s: float) -> None:
        match request:
            case Change(show=show):
                run.change(show, now_s)
            case Step(by=by):
                run.player.step_by(by)
            case Jump(step=step):
                run.player.jump(step)
            case Pause(on=on):
                run.player.in_hand = on
            case Dark(on=on):
                run.player.dark = on
            case Stop():
                run.end("stopped", now_s)

    @property
    def _holder_name(self) -> str:
        return self._names.get(self._holder, "") if self._holder else ""

    def _plan_report(self, run: Run, frame: NewestFrame) -> Plan:
        return Plan(number=self._plan, setup=run.setup, frame_path=str(frame.path))

    def _tell_all(self, report: BaseModel) -> None:
        for client in self._names:
            client.send(report)

    def _tell_status(self, now_s: float) -> None:
        status = self._status(now_s)
        for client in self._names:
            if not client.is_waiting:
                client.send(status.model_copy(update={"yours": client is self._holder}))

    def _status(self, now_s: float) -> Status:
        idle = Status(
            state=State.IDLE,
            control=self._holder_name,
            clients=tuple(self._names.values()),
            leash=self._leash,
        )
        return idle.model_copy(update=self._playing(self._run, now_s)) if self._run else idle

    def _playing(self, run: Run, now_s: float) -> dict[str, object]:
        player = run.player
        return dict(
            state=run.state,
            plan=self._plan,
            show=run.show,
            pace=player.pace,
            step=player.step,
            steps=player.steps,
            now_showing=player.now_showing,
            seconds=now_s - run.began_s,
            universes=run.universes,
            counts=run.counts(),
            lateness=run.lateness_summary(),
            last_error=run.last_error,
            route=run.route,
        )


def _ended(run: Run, now_s: float) -> Ended:
    return Ended(
        reason=run.ending_reason,
        counts=run.counts(),
        lateness=run.lateness_summary(),
        seconds=now_s - run.began_s,
        last_error=run.last_error,
    )
