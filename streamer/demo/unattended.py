"""The demo without a screen: real engine, real packets over loopback, every one of them checked."""

import contextlib
import os
import select
import time
from collections.abc import Callable
from contextlib import ExitStack, closing

from streamer.demo.findings import Findings
from streamer.demo.lights import Lights, Look
from streamer.demo.promise import Promise
from streamer.demo.witness import Witness
from streamer.display.model import Protocol
from streamer.display.patch import compile_patch
from streamer.display.sample import sample_display
from streamer.engine.client import EngineLink, client_name, start
from streamer.engine.messages import (
    Change,
    Ended,
    Pause,
    Play,
    Refused,
    Report,
    Setup,
    Show,
    State,
    Status,
    Stop,
)
from streamer.errors import LinkError, NetworkError
from streamer.net.destinations import LOOPBACK
from streamer.net.interfaces import list_interfaces
from streamer.net.receiver import UdpReceiver
from streamer.wire import artnet, e131
from streamer.yard.others import in_the_way

SHOWS = ("walk", "tint", "count", "order", "ramp", "fixtures")
PACE = 20.0
READ_AT_ONCE = 1000
LOOK_S = 0.1
SETTLE_LIMIT_S = 1.5
"""The flash guard may hold a picture back for up to a second; after that it must be there."""
END_LIMIT_S = 5.0
STOPPED = "Stopped before the end, so nothing is proven."

Ears = dict[Protocol, UdpReceiver]


def run_unattended(seconds: float, is_asked_to_end: Callable[[], bool]) -> Findings:
    """Play the demo for `seconds` and check all of it.

    NetworkError when a port is taken, LinkError when a yard has it, when the engine cannot be had or the end
    is asked for.
    """
    with ExitStack() as stack:
        ears = _ears(stack)
        link = stack.enter_context(closing(start(f"demo-{os.getpid()}", client_name("ropewalk demo"))))
        return _Performance(link, ears, is_asked_to_end).play(seconds)


def _ears(stack: ExitStack) -> Ears:
    try:
        return {
            Protocol.E131: stack.enter_context(_e131_ears()),
            Protocol.ARTNET: stack.enter_context(UdpReceiver(artnet.PORT, LOOPBACK)),
        }
    except NetworkError as error:
        if words := in_the_way():
            raise LinkError(words) from error
        raise


def _e131_ears() -> UdpReceiver:
    """Listen to what is sent to loopback and, where groups work there, to universe discovery."""
    group = e131.multicast_group(e131.DISCOVERY_UNIVERSE)
    loopback = next((each for each in list_interfaces() if each.is_loopback and each.is_up), None)
    with contextlib.suppress(NetworkError):
        return UdpReceiver(e131.PORT, LOOPBACK, [group], loopback)
    return UdpReceiver(e131.PORT, LOOPBACK)


class _Performance:
    """One engine playing the shows, and everybody who watches."""

    def __init__(self, link: EngineLink, ears: Ears, is_asked_to_end: Callable[[], bool]) -> None:
        self._link = link
        self._ears = ears
        self._is_asked_to_end = is_asked_to_end
        display = sample_display()
        patch = compile_patch(display)
        self._setup = Setup(display=display)
        self._witness = Witness(self._setup, patch)
        self._lights = Lights(display, patch)
        self._ended: Ended | None = None
        self._status: Status | None = None

    def play(self, seconds: float) -> Findings:
        """Play every show for its share of `seconds`; however this ends, the lights are dark afterwards."""
        try:
            looks = [self._play_show(name, seconds / len(SHOWS)) for name in SHOWS]
            looks.append(self._end())
        finally:
            if self._ended is None and self._link.is_open:
                self._link.send(Stop())
                self._is_asked_to_end = lambda: False
                self._listen(END_LIMIT_S, lambda: self._ended is not None)
        if self._ended is None:
            raise LinkError(f"The engine did not end within {END_LIMIT_S:g} s.")
        unheard = sum(ears.dropped for ears in self._ears.values())
        return Findings(self._setup.display, self._witness, tuple(looks), self._ended, unheard)

    def _play_show(self, name: str, seconds: float) -> Look:
        show = Show(pattern=name, pace=PACE)
        promise = self._witness.expect(show, time.monotonic())
        if self._status is None:
            self._link.send(Play(setup=self._setup, show=show))
        else:
            self._link.send(Change(show=show))
            self._link.send(Pause(on=False))
        self._listen(seconds, lambda: False)
        return self._look(promise)

    def _look(self, promise: Promise) -> Look:
        """Take the show in hand, and see whether the lights come to show its step."""
        self._status = None
        self._link.send(Pause(on=True))
        self._listen(END_LIMIT_S, self._is_in_hand)
        step = self._step_in_hand()
        self._listen(SETTLE_LIMIT_S, lambda: self._lights.compare(promise, step).is_right)
        return self._lights.compare(promise, step)

    def _is_in_hand(self) -> bool:
        return self._status is not None and self._status.state is State.IN_HAND

    def _step_in_hand(self) -> int:
        if self._status is None or not self._is_in_hand():
            raise LinkError(f"The engine did not answer within {END_LIMIT_S:g} s.")
        return self._status.step

    def _end(self) -> Look:
        promise = self._witness.expect_end(time.monotonic())
        self._link.send(Stop())
        self._listen(END_LIMIT_S, lambda: self._ended is not None)
        self._hear()
        return self._lights.compare(promise, 0)

    def _listen(self, seconds: float, is_enough: Callable[[], bool]) -> None:
        """Hear what arrives, for so long or until it is enough; LinkError when the end is asked for."""
        limit_s = time.monotonic() + seconds
        while (left_s := limit_s - time.monotonic()) > 0 and not is_enough():
            if self._is_asked_to_end():
                raise LinkError(STOPPED)
            ears = [receiver.fileno() for receiver in self._ears.values()]
            select.select([self._link.fileno(), *ears], [], [], min(left_s, LOOK_S))
            self._hear()
            self._link.flush()
            for report in self._link.receive():
                self._note(report)
            if not self._link.is_open:
                raise LinkError("The engine has gone without a word.")

    def _note(self, report: Report) -> None:
        match report:
            case Ended():
                self._ended = report
            case Refused(reason=reason):
                raise LinkError(reason)
            case Status(plan=plan) if plan:
                self._status = report

    def _hear(self) -> None:
        now_s = time.monotonic()
        for protocol, receiver in self._ears.items():
            while datagrams := receiver.receive(READ_AT_ONCE):
                for datagram in datagrams:
                    if self._witness.take(protocol, datagram.payload, datagram.source, now_s):
                        self._lights.take(protocol, datagram, now_s)
