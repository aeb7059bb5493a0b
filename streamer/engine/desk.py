"""The engine's front desk: does what clients ask of the run, and ends it when nobody minds it.

Time is an argument.
"""

from collections.abc import Callable, Iterable
from uuid import UUID

from pydantic import BaseModel

from patterns.plain import PatternError
from streamer.engine.attendance import Attendance, Client
from streamer.engine.directing import direct
from streamer.engine.engine import Run
from streamer.engine.flash_limit import without_word
from streamer.engine.host import CpuMeter, Host
from streamer.engine.messages import (
    Calm,
    Change,
    Dark,
    Hello,
    Jump,
    Leash,
    Loosen,
    Pause,
    Plan,
    Play,
    Refusal,
    Refused,
    Request,
    State,
    Status,
    Step,
    Stop,
    TakeControl,
)
from streamer.engine.outlet import OpenOutlet
from streamer.engine.pacing import Wait
from streamer.engine.source import Source
from streamer.engine.telling import end_of, status_of
from streamer.errors import LinkError, RopewalkError
from streamer.link.newest import NewestFrame

STATUS_PERIOD_S = 0.2
STATUS_EARLY_S = 0.02
"""A status this close is told with the frame at hand: one waking less of the process."""
ALONE = "nobody is attached"

SharedFrame = Callable[[int, int, int], NewestFrame]
"""Makes the shared frame of a plan, given its nodes and channels and the frames laid by at a time."""


class RefusedError(LinkError):
    """A request that the desk does not do, and why."""

    def __init__(self, why: Refusal, words: str) -> None:
        self.why = why
        super().__init__(words)


class Desk:
    """Serves the clients of one engine."""

    def __init__(
        self, cid: UUID, open_outlet: OpenOutlet, share: SharedFrame, host: Host, now_s: float
    ) -> None:
        self._source = Source(cid)
        self._host = host
        self._meter = CpuMeter(host, now_s)
        self._is_measuring = False
        self._open_outlet = open_outlet
        self._share = share
        self._attendance = Attendance(now_s)
        self._run: Run | None = None
        self._last: Run | None = None
        """The last run that is over: the flash guard of the next one remembers its lights."""
        self._leaving: list[Run] = []
        self._frame: NewestFrame | None = None
        self._plan = 0
        self._leash = Leash.LEASHED
        self._status_s = now_s
        self._closing = False

    @property
    def runs(self) -> tuple[Run, ...]:
        """The run in progress and those that are saying farewell."""
        return (*([self._run] if self._run else []), *self._leaving)

    @property
    def wake_s(self) -> float:
        """The moment at which something is due next."""
        return min([self.attention_s, *(run.pieces_s for run in self.runs)])

    @property
    def attention_s(self) -> float:
        """The moment at which `tick` has something to do."""
        moments = [run.attention_s for run in self.runs]
        if self._attendance.names:
            moments.append(self._status_s)
        if self._ends_when_alone:
            moments.append(self._attendance.grace_over_s)
        return min(moments, default=self._status_s)

    def has_to_tell(self, now_s: float) -> bool:
        """Whether a status is due at `now_s`, or so soon that it is told now, to somebody who is there."""
        return bool(self._attendance.names) and self._is_status_due(now_s)

    def _is_status_due(self, now_s: float) -> bool:
        return now_s >= self._status_s - STATUS_EARLY_S

    @property
    def is_done(self) -> bool:
        """Whether the engine has no more to do: no run, and nobody who could ask for one."""
        return self._closing and not self.runs

    @property
    def _ends_when_alone(self) -> bool:
        return not self._closing and (self._run is None or self._leash is Leash.LEASHED)

    def tick(self, connected: Iterable[Client], now_s: float) -> None:
        """Let what is due happen, with these clients connected."""
        has_emptied = self._attendance.notice(connected, now_s)
        is_over = now_s >= self._attendance.grace_over_s or (has_emptied and self._run is None)
        if self._ends_when_alone and is_over:
            self.end(ALONE, now_s)
        if not self._is_measuring:
            # Laying out is done; what a run costs is told from here on.
            self._meter, self._is_measuring = CpuMeter(self._host, now_s), True
        if self._run:
            self._run.be_watched(on=bool(self._attendance.names))
        for run in self.runs:
            run.tick(now_s)
        self._finish_ended(now_s)
        if self._is_status_due(now_s):
            self._status_s = now_s + STATUS_PERIOD_S
            self._tell_status(now_s)

    def depart(self, wait: Wait, until_s: float) -> bool:
        """Send what only waits for its moment, before `until_s`, for as long as `wait` lets it.

        Return whether all of it went: then nothing happens before `until_s`.
        """
        if self._run and not self._leaving:
            return self._run.depart(wait, until_s)
        return False

    def end(self, reason: str, now_s: float) -> None:
        """Begin to end the run and the engine."""
        self._closing = True
        if self._run:
            self._run.end(reason, now_s)

    def close(self) -> None:
        """Take away what is shared and close the sockets."""
        for run in self.runs:
            run.close()
        if self._frame:
            self._frame.remove()

    def _finish_ended(self, now_s: float) -> None:
        for run in [run for run in self._leaving if run.is_over]:
            self._leaving.remove(run)
            run.close()
        if self._run and self._run.is_over:
            self._tell_all(end_of(self._run, self._host.scheduling, self._meter.share(now_s), now_s))
            self._run.close()
            self._run, self._last = None, self._run
            self._status_s = now_s

    def serve(self, client: Client, request: Request, now_s: float) -> None:
        """Do what a client asks, or say why not; the next tick tells everybody what has become of it."""
        try:
            self._serve(client, request, now_s)
        except RefusedError as error:
            client.send(Refused(request=request.kind, why=error.why, reason=str(error)))
        except (RopewalkError, PatternError) as error:
            client.send(Refused(request=request.kind, why=Refusal.CANNOT_BE, reason=str(error)))
        self._status_s = now_s

    def _serve(self, client: Client, request: Request, now_s: float) -> None:
        match request:
            case Hello():
                self._greet(client, request)
            case _ if client not in self._attendance:
                raise RefusedError(Refusal.NO_HELLO, "Say hello first.")
            case TakeControl():
                self._attendance.give_control(client)
            case _ if client is not self._attendance.holder:
                holder = self._attendance.holder_name or "Nobody"
                raise RefusedError(Refusal.NO_CONTROL, f"{holder} holds control. Take control first.")
            case Play():
                self._play(request, now_s)
            case Loosen(leash=leash):
                self._leash = leash
            case _ if self._run is None or self._run.ending_reason:
                raise RefusedError(Refusal.NOTHING_PLAYS, "Nothing is playing. Start first.")
            case Change() | Step() | Jump() | Pause() | Dark() | Calm() | Stop():
                direct(self._run, request, now_s)

    def _greet(self, client: Client, hello: Hello) -> None:
        self._attendance.greet(client, hello)
        if self._run and self._frame:
            self._run.be_watched(on=True)
            client.send(self._plan_report(self._run, self._frame))

    def _play(self, play: Play, now_s: float) -> None:
        if self._closing:
            raise RefusedError(Refusal.ENDING, "The engine is ending. Start another.")
        run = Run(play, self._source, self._open_outlet, now_s)
        try:
            frame = self._share(run.stage.nodes, run.stage.channels, run.frames_ahead)
        except LinkError:
            run.close()
            raise
        run.show_in(frame)
        self._replace_run(run, now_s)
        if self._frame:
            self._frame.remove()
        self._frame, self._leash, self._plan = frame, play.setup.leash, self._plan + 1
        self._tell_all(self._plan_report(run, frame))

    def _replace_run(self, run: Run, now_s: float) -> None:
        if self._run:
            self._run.end("another run began", now_s, run.keys)
            self._leaving.append(self._run)
        run.begin(self._run or self._last)
        self._run, self._is_measuring = run, False

    def _plan_report(self, run: Run, frame: NewestFrame) -> Plan:
        cid = str(self._source.cid)
        return Plan(number=self._plan, setup=without_word(run.setup), frame_path=str(frame.path), cid=cid)

    def _tell_all(self, report: BaseModel) -> None:
        for client in self._attendance:
            client.send(report)

    def _tell_status(self, now_s: float) -> None:
        if not self._attendance.names:
            return
        status = self._status(now_s)
        for client in self._attendance:
            if not client.is_waiting:
                client.send(status.model_copy(update={"yours": client is self._attendance.holder}))

    def _status(self, now_s: float) -> Status:
        idle = Status(
            state=State.IDLE,
            control=self._attendance.holder_name,
            clients=self._attendance.names,
            leash=self._leash,
            cpu_share=self._meter.share(now_s),
            scheduling=self._host.scheduling,
        )
        return status_of(self._run, idle, self._plan, now_s) if self._run else idle
