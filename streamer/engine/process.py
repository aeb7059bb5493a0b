"""The engine's own process: the one small loop that owns the clock, the sockets and the signals.

A screen in the same interpreter made frames up to 58 ms late and lost up to 13 % of them; a process of
its own lost none. So there is one thread here, no collector of garbage, and nothing that waits.
"""

import contextlib
import gc
import select
import signal
import socket
import sys
import time
import traceback
from types import FrameType

from streamer.engine.client import SUFFIX, socket_path
from streamer.engine.desk import Desk
from streamer.engine.host import Host
from streamer.engine.identity import Identity
from streamer.engine.kept import open_kept_outlet
from streamer.engine.messages import REQUESTS, Request
from streamer.engine.outlet import OpenOutlet
from streamer.engine.punctuality import Punctuality, this_system
from streamer.link.addresses import log_path
from streamer.link.folders import config_folder
from streamer.link.newest import NewestFrame
from streamer.link.processes import as_process
from streamer.link.server import LinkServer

ENDING_SIGNALS = ("SIGTERM", "SIGHUP", "SIGINT")
BELL_OCTETS = 4096
LAST_WORDS_LIMIT_S = 2.0


class Loop:
    """Serves one engine until it is done. Only one may be in a process, in its main thread."""

    def __init__(self, name: str, open_outlet: OpenOutlet = open_kept_outlet) -> None:
        self._path = socket_path(name)
        self._frames = 0
        self._asked_to_end = ""
        self._is_called = True
        """Whether a client has said something since the last turn, or takes more."""
        self._to_read: list[int] = []
        self._to_write: list[int] = []
        # A signal must end the wait at once: select() by itself goes on waiting (PEP 475).
        self._bell, self._ring = socket.socketpair()
        for end in (self._bell, self._ring):
            end.setblocking(False)
        self._identity = Identity(config_folder())
        self._punctuality = Punctuality(this_system())
        host = Host(self._punctuality.words, time.process_time)
        self._desk = Desk(self._identity.cid, open_outlet, self._share, host, time.monotonic())
        self._server: LinkServer[Request] = LinkServer(self._path, REQUESTS)

    def _share(self, nodes: int, channels: int, laid_by: int) -> NewestFrame:
        self._frames += 1
        path = self._path.with_name(f"{self._path.name}.{self._frames}.frame")
        return NewestFrame.create(path, nodes, channels, laid_by)

    def run(self) -> None:
        """Run until the desk is done; however this ends, the lights go dark and the streams end."""
        signal.set_wakeup_fd(self._ring.fileno(), warn_on_full_buffer=False)
        for name in ENDING_SIGNALS:
            if hasattr(signal, name):
                signal.signal(getattr(signal, name), self._on_signal)
        if hasattr(signal, "SIGXCPU"):
            signal.signal(signal.SIGXCPU, self._on_unbroken_run)
        gc.freeze()
        gc.disable()
        try:
            while not self._desk.is_done:
                self._turn()
        except BaseException as error:
            traceback.print_exc()
            self._last_words(error)
            raise
        finally:
            self._desk.close()
            self._server.close()
            self._identity.close()

    def _turn(self) -> None:
        # Asking every socket in vain each time would cost as much as sending to ten universes.
        for client, request in self._server.poll() if self._is_called else ():
            self._desk.serve(client, request, time.monotonic())
        # Laying out a large display takes a quarter of a second: what is due is due after that.
        now_s = time.monotonic()
        if self._asked_to_end:
            self._desk.end(self._asked_to_end, now_s)
        self._desk.tick(self._server.clients, now_s)
        self._wait()

    def _wait(self) -> None:
        """Wait for what the desk must see to. Meanwhile what is ready goes, by little work."""
        self._is_called = False
        self._to_read = [self._bell.fileno(), *self._server.filenos()]
        self._to_write = self._server.waiting_filenos()
        attention_s = self._desk.attention_s
        if self._punctuality.is_lowered and self._desk.wake_s > time.monotonic():
            self._punctuality.regain()
        has_all_gone = self._desk.depart(self._wait_until, attention_s)
        if not self._is_called and not self._desk.has_to_tell(time.monotonic()):
            self._wait_until(attention_s if has_all_gone else self._desk.wake_s)

    def _wait_until(self, moment_s: float) -> float | None:
        """Wait for a moment, and return when that was; None as soon as somebody calls.

        By one call, so that the processor is woken once: select(2) counts in microseconds.
        """
        left_s = moment_s - time.monotonic()
        readable, writable, _ = select.select(self._to_read, self._to_write, (), max(0, left_s))
        if readable or writable:
            self._is_called = True
            self._still_the_bell()
            return None
        return time.monotonic()

    def _still_the_bell(self) -> None:
        with contextlib.suppress(BlockingIOError):
            self._bell.recv(BELL_OCTETS)

    def _last_words(self, error: BaseException) -> None:
        """After a fault of our own: dark and terminated all the same, whatever else fails."""
        reason = f"the engine failed ({type(error).__name__}); {log_path(self._path)} says where"
        self._desk.end(reason, time.monotonic())
        limit_s = time.monotonic() + LAST_WORDS_LIMIT_S
        for run in self._desk.runs:
            while not run.is_over and time.monotonic() < limit_s:
                time.sleep(max(0.0, min(run.wake_s, limit_s) - time.monotonic()))
                with contextlib.suppress(Exception):
                    run.tick(time.monotonic())
        # It tells the clients; the fault itself may stand in the way of that.
        with contextlib.suppress(Exception):
            self._desk.tick(self._server.clients, time.monotonic())

    def _on_unbroken_run(self, _number: int, _frame: FrameType | None) -> None:
        self._punctuality.lower()

    def _on_signal(self, number: int, _frame: FrameType | None) -> None:
        self._asked_to_end = f"ended by {signal.Signals(number).name}"


def main() -> int:
    """Run the engine called by the first argument."""
    return as_process(lambda: Loop(sys.argv[1]).run(), sys.argv[1], SUFFIX)


if __name__ == "__main__":
    sys.exit(main())
