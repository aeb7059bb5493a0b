"""A burst goes out once, all at one moment and alone: what a small buffer loses of it stays to be seen."""

import socket
from collections import Counter
from collections.abc import Sequence
from contextlib import closing
from itertools import pairwise

import pytest

from patterns.plain import Bytes
from streamer.display.model import Controller, Display, Protocol
from streamer.display.slots import Indices
from streamer.engine.engine import Run
from streamer.engine.messages import Play, Setup, Show
from streamer.engine.outlet import Outlet
from streamer.engine.source import Source
from streamer.net.batched import open_sender
from streamer.net.destinations import Destination
from streamer.net.linux import IS_LINUX
from streamer.net.sender import RecordingSender
from streamer.wire import e131
from tests.engine.bench import CID, Bench, play, port, shows

STEP_S = 0.8
"""The pattern's own pace is 1.25 steps a second."""
UNIVERSES = 120


def lake(universes: int = UNIVERSES, address: str = "127.0.0.1") -> Display:
    """Return a display of one controller with so many universes of one string each."""
    ports = tuple(port(number, number, 170) for number in range(1, universes + 1))
    jetty = Controller(name="jetty", protocol=Protocol.E131, address=address, ports=ports)
    return Display(name="lake", controllers=(jetty,))


def test_each_burst_has_as_many_packets_as_it_says_at_one_moment_and_no_repeats():
    """From the second step on: 120 universes are kept alive between the bursts, never with one."""
    bench = Bench()
    bench.start(play("burst", lake(), params={"by": 7}))
    bench.pass_time(10 * STEP_S - 0.01)
    sent = Counter(round(packet.at_s - 1000, 6) for packet in bench.packets if any(packet.slots))
    for step in range(1, 10):
        size = 1 + 7 * step
        at_s = round(STEP_S * step, 6)
        assert sent[at_s] == size
        own = {at: count for at, count in sent.items() if at_s < at < at_s + STEP_S - 1e-6}
        assert own == {}, "lit universes are sent again"
        beside = [each for each in bench.packets if round(each.at_s - 1000, 6) == at_s]
        assert len(beside) == size, "keep-alives of dark universes came with it"


def test_every_universe_is_kept_alive_all_the_same():
    """ANSI E1.31-2018 6.6.2: within 1000 ms; in hand too, and then the whole burst comes again at once."""
    bench = Bench()
    run = bench.start(play("burst", lake()))
    bench.pass_time(5)
    run.player.jump(29)
    bench.pass_time(5)
    for universe in range(1, UNIVERSES + 1):
        moments = [packet.at_s for packet in bench.of(universe)]
        assert max(later - at for at, later in pairwise(moments)) <= 1.0
    held = Counter(packet.at_s for packet in bench.packets if packet.at_s > 1006 and any(packet.slots))
    assert set(held.values()) == {30}


def test_the_dark_is_no_burst():
    """It is repeated three times, as every change is: lights that should be out must go out."""
    bench = Bench()
    run = bench.start(play("burst", lake(10)))
    bench.pass_time(4)
    run.show_dark(bench.now_s, on=True)
    dark = bench.pass_time(0.3)
    assert {
        universe: len([each for each in dark if each.key.universe == universe]) for universe in range(1, 5)
    } == (dict.fromkeys(range(1, 5), 4))


def test_the_next_pattern_is_sent_as_usual():
    """With its repeats: nothing of the burst is left."""
    bench = Bench()
    bench.start(play("burst", lake(10)))
    bench.pass_time(2)
    shows(bench, "level", params={"colour": "cyan"})
    after = bench.pass_time(0.5)
    assert Counter(packet.key.universe for packet in after) == dict.fromkeys(range(1, 11), 4)


@pytest.mark.skipif(not IS_LINUX, reason="a full buffer drops what comes last, as Linux has it")
def test_what_a_small_buffer_loses_stays_dark_until_the_next_step():
    """A receiver that takes a few packets at once, and reads them when the burst is over."""
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as controller:
        controller.bind(("127.0.0.1", 0))
        controller.setblocking(False)
        sender = Elsewhere(controller.getsockname()[1])
        run = Run(
            Play(
                setup=Setup(display=lake(64)),
                show=Show(pattern="burst", params={"first": 8, "by": 8}, level_percent=100),
            ),
            Source(CID),
            lambda _: Outlet(sender, (RecordingSender(),), ""),
            0.0,
        )
        run.begin()
        levels: dict[int, bytes] = {}
        advance(run, 0.0, STEP_S - 0.1, controller, levels)
        assert sum(any(slots) for slots in levels.values()) == 8
        controller.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 24 * 1024)
        seen = []
        for step in range(1, 8):
            advance(run, STEP_S * step - 0.1, STEP_S * (step + 1) - 0.1, controller, levels)
            colour = [(255, 0, 0), (0, 255, 0), (0, 0, 255)][step % 3]
            seen.append(sum(slots[:3] == bytes(colour) for slots in levels.values()))
        run.close()
    sizes = [16, 24, 32, 40, 48, 56, 64]
    takes = seen[-1]
    assert 8 < takes < 64, "the buffer is too large or too small for this test"
    assert seen == [min(size, takes) for size in sizes]


class Elsewhere(RecordingSender):
    """A real sender, to one port whatever the packets' own is."""

    def __init__(self, udp_port: int) -> None:
        super().__init__()
        self._sender = open_sender(None)
        self._port = udp_port
        self._to: dict[int, tuple[Destination, ...]] = {}

    def send(self, packets: Bytes, rows: Indices, destinations: Sequence[Destination]) -> None:
        """Send, to that port."""
        to = self._to.setdefault(
            id(destinations), tuple((address, self._port) for address, _ in destinations)
        )
        self._sender.send(packets, rows, to)

    def close(self) -> None:
        """Close it."""
        self._sender.close()


def advance(
    run: Run, from_s: float, until_s: float, controller: socket.socket, levels: dict[int, bytes]
) -> None:
    """Let the run go on; the controller reads whenever nothing is sent at that moment."""
    now_s = max(from_s, run.wake_s) if from_s else 0.0
    while now_s < until_s:
        run.tick(now_s)
        if run.wake_s > now_s:
            read(controller, levels)
            now_s = run.wake_s


def read(controller: socket.socket, levels: dict[int, bytes]) -> None:
    """Take in what has arrived."""
    while True:
        try:
            packet = e131.parse(controller.recv(2048))
        except BlockingIOError:
            return
        assert isinstance(packet, e131.DataPacket)
        levels[packet.universe] = packet.slots
