"""The engine's own process: the one small loop that owns the clock, the sockets and the signals.

A screen in the same interpreter made frames up to 58 ms late and lost up to 13 % of them; a process of
its own lost none. So there is one thread here, no collector of garbage, and nothing that waits.
"""

import gc
import select
import signal
import socket
import sys
import time
import traceback
from types import FrameType

from streamer.engine.client import socket_path
from streamer.engine.desk import Desk
from streamer.engine.identity import component_id
from streamer.engine.messages import REQUESTS, Request
from streamer.engine.outlet import open_outlet
from streamer.errors import RopewalkError
from streamer.link.folders import config_folder
from streamer.link.newest import NewestFrame
from streamer.link.server import LinkServer

WAKE_EARLY_S = 0.002
"""poll() counts in whole milliseconds; the last stretch to a deadline is slept, which is exact to 0.2 ms."""
ENDING_SIGNALS = ("SIGTERM", "SIGHUP", "SIGINT")


class Loop:
    """Serves one engine until it is done."""

    def __init__(self, name: str) -> None:
        path = socket_path(name)
        self._server: LinkServer[Request] = LinkServer(path, REQUESTS)
        self._frames = 0
        self._asked_to_end = ""
        # A signal must end the wait at once: select() by itself goes on waiting (PEP 475).
        self._bell, ring = socket.socketpair()
        for end in (self._bell, ring):
            end.setblocking(False)
        signal.set_wakeup_fd(ring.detach(), warn_on_full_buffer=False)

        def share(nodes: int, channels: int) -> NewestFrame:
            self._frames += 1
            return NewestFrame.create(path.with_suffix(f".{self._frames}.frame"), nodes, channels)

        self._desk = Desk(component_id(config_folder()), open_outlet, share, time.monotonic())

    def run(self) -> None:
        """Run until the desk is done; however this ends, the lights go dark and the streams end."""
        for name in ENDING_SIGNALS:
            if hasattr(signal, name):
                signal.signal(getattr(signal, name), self._on_signal)
        gc.freeze()
        gc.disable()
        try:
            while not self._desk.is_done:
                self._turn()
        except BaseException:
            self._last_words()
            raise
        finally:
            self._desk.close()
            self._server.close()

    def _turn(self) -> None:
        now_s = time.monotonic()
        for client, request in self._server.poll():
            self._desk.serve(client, request, now_s)
        if self._asked_to_end:
            self._desk.end(self._asked_to_end, now_s)
        self._desk.tick(self._server.clients, now_s)
        self._wait_until(self._desk.wake_s)

    def _wait_until(self, wake_s: float) -> None:
        left_s = wake_s - time.monotonic()
        if left_s > WAKE_EARLY_S:
            ready, _, _ = select.select([self._bell.fileno(), *self._server.filenos()], [], [], left_s - WAKE_EARLY_S)
            if ready:
                return
            left_s = wake_s - time.monotonic()
        if left_s > 0:
            time.sleep(left_s)

    def _last_words(self) -> None:
        """After a fault of our own: dark and terminated all the same."""
        traceback.print_exc()
        self._desk.end("the engine failed; its log says why", time.monotonic())
        while not self._desk.is_done:
            self._desk.tick(self._server.clients, time.monotonic())
            time.sleep(max(0.0, self._desk.wake_s - time.monotonic()))

    def _on_signal(self, number: int, _frame: FrameType | None) -> None:
        self._asked_to_end = f"ended by {signal.Signals(number).name}"


def main() -> int:
    """Run the engine called by the first argument."""
    try:
        Loop(sys.argv[1]).run()
    except RopewalkError as error:
        print(error, file=sys.stderr)  # noqa: T201  the log is this process's standard error
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
