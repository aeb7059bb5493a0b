"""What sending costs: processor time a packet, ours beside the libraries', in one run.

Not a test: `python -m tests.bench.sending [--quick] [--json]`. A reader on loopback drains and counts all of
it. Ratios hold from machine to machine, absolute times do not. Loopback only; it ends by itself.
"""

import json
import subprocess
import sys
import time
from collections.abc import Callable
from statistics import median
from uuid import UUID, uuid4

import numpy as np

from streamer.net.offload import OffloadSender
from streamer.net.sender import UdpSender
from streamer.wire.e131 import Options
from streamer.wire.lay_out import e131_data

UNIVERSES = (10, 100, 1000)
RATE_HZ = 40
LOOPBACK = "127.0.0.1"
DRAIN = """
import socket
reader = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
reader.setsockopt(socket.SOL_SOCKET, getattr(socket, "SO_RCVBUFFORCE", 33), 16 << 20)
reader.bind(("127.0.0.1", 0))
print(reader.getsockname()[1], flush=True)
reader.settimeout(1)
count, into = 0, bytearray(2048)
try:
    while True:
        reader.recv_into(into)
        count += 1
except TimeoutError:
    print(count, flush=True)
"""
Frame = Callable[[], None]


def ours(kind: type[UdpSender], universes: int, port: int) -> Frame:
    """Send with one of our senders: slots and sequences changed in place, then one call."""
    sender = kind(None)
    cid = uuid4()
    packets = np.array([_laid_out(cid, n + 1) for n in range(universes)])
    rows, destinations = np.arange(universes), ((LOOPBACK, port),) * universes

    def frame() -> None:
        packets[:, 126:] += 1
        packets[:, 111] += 1
        sender.send(packets, rows, destinations)

    return frame


def _laid_out(cid: UUID, universe: int) -> np.ndarray:
    packet = e131_data(
        cid=cid, source_name="bench", universe=universe, slot_count=512, priority=100, sync_address=0,
        options=Options(0), start_code=0,
    )  # fmt: skip
    return np.frombuffer(packet, np.uint8)


def with_sacn(universes: int, port: int) -> Frame:
    """Send as the library's own thread does: data set, packet built, one sendto each."""
    import socket

    from sacn.messages.data_packet import DataPacket

    sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    packets = [DataPacket((1,) * 16, "bench", n + 1, (0,) * 512) for n in range(universes)]
    level = 0

    def frame() -> None:
        nonlocal level
        level = (level + 1) % 256
        for packet in packets:
            packet.dmxData = (level,) * 512
            packet.sequence_increase()
            sock.sendto(bytes(packet.getBytes()), (LOOPBACK, port))

    return frame


def with_stupid_artnet(universes: int, port: int) -> Frame:
    """Send with an object a universe: set, then show. The library's port is fixed, so it is set after."""
    from stupidArtnet import StupidArtnet

    objects = [StupidArtnet(LOOPBACK, n, 512, port=port) for n in range(universes)]
    level = 0

    def frame() -> None:
        nonlocal level
        level = (level + 1) % 256
        slots = bytearray([level] * 512)
        for each in objects:
            each.set(slots)
            each.show()

    return frame


WAYS: dict[str, Callable[[int, int], Frame]] = {
    "offload": lambda universes, port: ours(OffloadSender, universes, port),
    "sendto": lambda universes, port: ours(UdpSender, universes, port),
    "stupidArtnet": with_stupid_artnet,
    "sacn": with_sacn,
}


def cost_us(way: str, universes: int, frames: int) -> tuple[float, int, int]:
    """Return the processor time a packet in us, the packets sent and those heard."""
    reader = subprocess.Popen([sys.executable, "-c", DRAIN], stdout=subprocess.PIPE, text=True)
    assert reader.stdout
    frame = WAYS[way](universes, int(reader.stdout.readline()))
    frame()
    began_s, used_s = time.monotonic(), time.process_time()
    for number in range(frames):
        frame()
        time.sleep(max(0.0, began_s + (number + 1) / RATE_HZ - time.monotonic()))
    used_s = time.process_time() - used_s
    heard = int(reader.stdout.readline())
    reader.wait()
    return used_s / (frames * universes) * 1e6, (frames + 1) * universes, heard


def main() -> None:
    """Measure every way in turn, some rounds, and print medians."""
    rounds, frames = (1, 20) if "--quick" in sys.argv else (3, 80)
    found: dict[str, dict[int, list[float]]] = {way: {n: [] for n in UNIVERSES} for way in WAYS}
    for _ in range(rounds):
        for universes in UNIVERSES:
            for way in WAYS:
                took_us, sent, heard = cost_us(way, universes, frames)
                found[way][universes].append(took_us)
                if heard != sent:
                    print(f"{way}: {heard} of {sent} packets were heard", file=sys.stderr)
    medians = {way: {n: round(median(of), 2) for n, of in by.items()} for way, by in found.items()}
    if "--json" in sys.argv:
        print(json.dumps(medians))
        return
    print(f"{'us a packet':14}" + "".join(f"{n:>10}" for n in UNIVERSES))
    for way, by in medians.items():
        print(f"{way:14}" + "".join(f"{by[n]:>10.2f}" for n in UNIVERSES))


if __name__ == "__main__":
    main()
