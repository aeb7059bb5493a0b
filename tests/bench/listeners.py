"""Those who listen in the bench, each a process: `python -m tests.bench.listeners NAME PROTOCOL UNIVERSES`.

They print "ready", and when interrupted one JSON object: what was heard, and the processor time it took.
"""

import json
import signal
import sys
import time
from collections.abc import Callable
from contextlib import ExitStack
from typing import Any

from streamer.display.model import Protocol
from streamer.ending import ending_signals
from streamer.hear.ears import Ears
from streamer.hear.table import Table
from streamer.net.arrivals import Arrivals
from streamer.net.interfaces import find_interface
from streamer.net.listener import Listener
from streamer.wire import artnet, e131

AFTER_S = 0.5
"""For what is still on its way."""
LOOPBACK = "127.0.0.1"
MS_PER_S = 1000
Told = dict[str, float]


class Timed(Table):
    """A table that notes how long after their arrival packets were taken in."""

    delay_s = 0.0
    count = 0

    def take(self, protocol: Protocol, arrivals: Arrivals, now: float) -> None:
        """Take them in."""
        super().take(protocol, arrivals, now)
        self.delay_s += float((now - arrivals.heard_s).sum())
        self.count += len(arrivals)


def ours(protocol: Protocol, universes: int, *, by_many: bool = True) -> Told:
    """Listen as the command does: told once a second."""
    asked = tuple(range(1, universes + 1)) if protocol is Protocol.E131 else ()
    table = Timed({Protocol.E131: asked}, time.monotonic(), "lo")
    ears = Ears(table, find_interface(LOOPBACK))
    with ExitStack() as stack:
        ended = stack.enter_context(ending_signals())
        ears.open(stack, Protocol)
        if not by_many:
            ears.listeners[protocol].close()
            port = e131.PORT if protocol is Protocol.E131 else artnet.PORT
            plain = stack.enter_context(Listener(port, find_interface(LOOPBACK), by_many=False))
            plain.join(e131.multicast_group(universe) for universe in asked)
            ears.listeners[protocol] = plain
        used_s, told_s = _ready()
        while not ended():
            ears.wait()
            ears.poll()
            now = time.monotonic()
            if now - told_s >= 1:
                told_s = now
                table.close_window(now)
                table.heard(ears.sockets(), now).model_dump_json()
        used_s = time.process_time() - used_s
        heard = table.heard(ears.sockets(), time.monotonic())
    sources = [source for universe in heard.universes for source in universe.sources]
    return {
        "heard": sum(source.packets for source in sources),
        "missing": sum(source.lost for source in sources),
        "dropped": sum(each.dropped or 0 for each in heard.sockets),
        "malformed": sum(each.malformed for each in heard.sockets),
        "delay_ms": table.delay_s / max(table.count, 1) * MS_PER_S,
        "cpu_s": used_s,
    }


def one_by_one(protocol: Protocol, universes: int) -> Told:
    """Listen as on a system without recvmmsg."""
    return ours(protocol, universes, by_many=False)


class _Counter:
    """Counts calls of a library's callback."""

    def __init__(self) -> None:
        self.count = 0

    def __call__(self, *_: Any) -> None:
        """Count one."""
        self.count += 1


def with_sacn(protocol: Protocol, universes: int) -> Told:  # noqa: ARG001  it knows only E1.31
    """Listen with the library's receiver, the levels changing in no packet, so by its own handler."""
    import sacn

    receiver = sacn.sACNreceiver(bind_address=LOOPBACK)
    counter = _Counter()
    take = receiver._handler.on_data

    def on_data(*arguments: Any) -> None:
        counter()
        take(*arguments)

    receiver._handler.socket._listener.on_data = on_data
    for universe in range(1, universes + 1):
        receiver.register_listener("universe", _Counter(), universe=universe)
    receiver.start()
    told = _until_interrupted(counter)
    receiver.stop()
    return told


def with_stupid_artnet(protocol: Protocol, universes: int) -> Told:  # noqa: ARG001  it knows only Art-Net
    """Listen with the library's server."""
    from stupidArtnet import StupidArtnetServer

    counter = _Counter()
    server = StupidArtnetServer()
    for number in range(universes):
        server.register_listener(number, callback_function=counter)
    return _until_interrupted(counter)


def _until_interrupted(counter: _Counter) -> Told:
    with ending_signals() as ended:
        used_s, _ = _ready()
        while not ended():
            signal.sigtimedwait([], AFTER_S)
        used_s = time.process_time() - used_s
    return {"heard": counter.count, "missing": -1, "dropped": -1, "cpu_s": used_s}


def _ready() -> tuple[float, float]:
    print("ready", flush=True)
    return time.process_time(), time.monotonic()


LISTENERS: dict[str, Callable[[Protocol, int], Told]] = {
    "ours": ours,
    "ours, one by one": one_by_one,
    "sacn": with_sacn,
    "stupidArtnet": with_stupid_artnet,
}


if __name__ == "__main__":
    told = LISTENERS[sys.argv[1]](Protocol(sys.argv[2]), int(sys.argv[3]))
    print(json.dumps(told), flush=True)
    # A library's threads may not end.
    sys.stdout.flush()
    signal.raise_signal(signal.SIGKILL)
