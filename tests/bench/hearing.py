"""What hearing costs: processor time a packet, ours beside a C program's and two libraries'; a flood's price.

Not a test: `python -m tests.bench.hearing [--quick] [--json]`. Loopback only, and it ends by itself: after
about three minutes, or one and a half. A C program sends, each listener is a process of its own, and all of
one run are shown: ratios of one run move less than times. Needs Linux and a C compiler; both protocols' ports
must be free.
"""

import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from streamer.display.model import Protocol
from streamer.wire import artnet, e131, lay_out
from tests.bench import listeners

LOOPBACK = "127.0.0.1"
UNIVERSES = 1000
RATE_HZ = 40
PER_CALL = 32
QUICK_S, WHOLE_S, DROWNING_S = 10.0, 60.0, 10.0
"""The libraries' receivers cannot keep up, which is seen in less time."""
RUBBISH_A_SECOND = 100_000
RUBBISH = 1_000_000
LIVE_UNIVERSES = 40
SLOTS = 512
END = b"."
LIMIT_S = 200
E131_OCTETS = e131.SLOTS_OCTET + SLOTS
ARTNET_OCTETS = artnet.SLOTS_OCTET + SLOTS
RUBBISH_ROWS = 4096
WIDTHS = 9, 9, 10, 10, 9, 9, 8


@dataclass(frozen=True)
class Cost:
    """What one listener made of one stream."""

    listener: str
    protocol: str
    universes: int
    seconds: float
    sent: int
    heard: int
    missing: int
    """By the sequence numbers, as the listener itself counts them; -1 where it does not."""
    dropped: int
    """By the kernel, for want of buffer; -1 where the listener does not say."""
    cpu_us: float
    """Of the listening process, its system calls included, for each packet heard."""


class Bench:
    """Measures one listener after another."""

    def __init__(self, folder: Path) -> None:
        self._program = folder / "hearing"
        source = Path(__file__).with_name("hearing.c")
        compiler = shutil.which("cc")
        assert compiler, "needs a C compiler"
        subprocess.run([compiler, "-O2", "-Wall", "-Wextra", "-o", self._program, source], check=True)
        self._files = {
            Protocol.E131: self._write(folder / "e131", _e131(UNIVERSES)),
            Protocol.ARTNET: self._write(folder / "artnet", _artnet(UNIVERSES)),
        }
        self._live = self._write(folder / "live", _e131(LIVE_UNIVERSES))
        self._rubbish = self._write(folder / "rubbish", _rubbish())

    def _write(self, path: Path, packets: np.ndarray) -> Path:
        packets.tofile(path)
        return path

    def c(self, seconds: float) -> Cost:
        """Measure the C program on groups."""
        words = [str(self._program), "drain", str(UNIVERSES), str(e131.PORT)]
        with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as reader:
            assert reader.stdout
            assert reader.stdout.readline() == "ready\n"
            sent = self._send(Protocol.E131, self._files[Protocol.E131], seconds)
            with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
                sock.sendto(END, (LOOPBACK, e131.PORT))
            cpu_us, heard, missing, dropped = reader.stdout.readline().split()
        return Cost(
            "C", "e131", UNIVERSES, seconds, sent, int(heard), int(missing), int(dropped), float(cpu_us)
        )

    def python(self, name: str, protocol: Protocol, seconds: float, universes: int = UNIVERSES) -> Cost:
        """Measure one of `listeners`."""
        # sacn's receiver joins its groups on one socket, which Linux lets join twenty.
        way = "one" if protocol is Protocol.ARTNET or name == "sacn" else "groups"
        said, sent = self._beside(
            name, protocol, universes, lambda: self._send(protocol, self._files[protocol], seconds, way)
        )
        cpu_us = said["cpu_s"] / max(said["heard"], 1) * 1e6
        return Cost(
            name,
            protocol,
            universes,
            seconds,
            sent,
            heard=int(said["heard"]),
            missing=int(said["missing"]),
            dropped=int(said["dropped"]),
            cpu_us=cpu_us,
        )

    def flood(self, seconds: float, *, rubbish: int) -> dict[str, float]:
        """Let a live source send to ours beside so many malformed datagrams, and say how it was heard."""

        def both() -> int:
            words = [
                self._program,
                "rubbish",
                self._rubbish,
                E131_OCTETS,
                e131.PORT,
                rubbish,
                RUBBISH_A_SECOND,
            ]
            with subprocess.Popen(list(map(str, words)), stdout=subprocess.PIPE) as sending:
                sent = self._send(Protocol.E131, self._live, seconds)
                assert sending.wait(LIMIT_S) == 0
            return sent

        said, sent = self._beside("ours", Protocol.E131, LIVE_UNIVERSES, both)
        return {"sent": sent, **said}

    def _beside(
        self, name: str, protocol: Protocol, universes: int, send: Callable[[], int]
    ) -> tuple[dict[str, float], int]:
        words = [sys.executable, "-m", "tests.bench.listeners", name, protocol, str(universes)]
        with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as reader:
            assert reader.stdout
            assert reader.stdout.readline() == "ready\n"
            sent = send()
            time.sleep(listeners.AFTER_S)
            with suppress(ProcessLookupError):
                os.kill(reader.pid, signal.SIGINT)
            return json.loads(reader.stdout.readline()), sent

    def _send(self, protocol: Protocol, packets: Path, seconds: float, way: str = "groups") -> int:
        is_e131 = protocol is Protocol.E131
        words = [
            *(self._program, "send", packets, E131_OCTETS if is_e131 else ARTNET_OCTETS),
            e131.SEQUENCE_OCTET if is_e131 else artnet.SEQUENCE_OCTET,
            *(way, LOOPBACK, e131.PORT if is_e131 else artnet.PORT),
            *(RATE_HZ, seconds, PER_CALL),
        ]
        done = subprocess.run(
            list(map(str, words)), capture_output=True, text=True, check=True, timeout=LIMIT_S
        )
        return int(done.stdout)


def _e131(universes: int) -> np.ndarray:
    from uuid import uuid4

    cid = uuid4()
    packets = [
        lay_out.e131_data(cid, "bench", number + 1, SLOTS, 100, 0, e131.Options(0), 0)
        for number in range(universes)
    ]
    return np.array([np.frombuffer(each, np.uint8) for each in packets])


def _artnet(universes: int) -> np.ndarray:
    packets = np.array(
        [np.frombuffer(lay_out.artdmx(number, SLOTS, 0, 0), np.uint8) for number in range(universes)]
    )
    packets[:, artnet.SEQUENCE_OCTET] = 1
    return packets


def _rubbish() -> np.ndarray:
    """Return good packets with a few octets before the slots made wrong, and noise."""
    random = np.random.default_rng(1)
    packets = np.tile(_e131(1), (RUBBISH_ROWS, 1))
    at = random.choice([0, 4, 16, 18, 38, 40, 115, 117, 118, 123], RUBBISH_ROWS)
    packets[np.arange(RUBBISH_ROWS), at] ^= random.integers(1, 256, RUBBISH_ROWS, np.uint8)
    packets[::4] = random.integers(0, 256, packets[::4].shape, np.uint8)
    return packets


def main() -> None:
    """Measure, and print a table or JSON."""
    long_s = QUICK_S if "--quick" in sys.argv else WHOLE_S
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder))
        costs = [
            bench.c(long_s),
            bench.python("ours", Protocol.E131, long_s),
            bench.python("ours", Protocol.ARTNET, DROWNING_S),
            bench.python("ours, one by one", Protocol.E131, DROWNING_S),
            bench.python("sacn", Protocol.E131, DROWNING_S),
            bench.python("stupidArtnet", Protocol.ARTNET, DROWNING_S),
        ]
        floods = {count: bench.flood(RUBBISH / RUBBISH_A_SECOND, rubbish=count) for count in (1, RUBBISH)}
    if "--json" in sys.argv:
        print(json.dumps({"costs": list(map(asdict, costs)), "floods": floods}))
        return
    print(
        f"{'':18}{'protocol':>9}{'seconds':>9}{'sent':>10}{'heard':>10}{'missing':>9}{'dropped':>9}{'us':>8}"
    )
    for cost in costs:
        print(
            f"{cost.listener:18}{cost.protocol:>9}{cost.seconds:>9.0f}{cost.sent:>10}{cost.heard:>10}"
            f"{cost.missing:>9}{cost.dropped:>9}{cost.cpu_us:>8.2f}"
        )
    print(f"\nours / C, in this run: {costs[1].cpu_us / costs[0].cpu_us:.2f}  (at most 2.5)")
    for count, said in floods.items():
        print(
            f"{LIVE_UNIVERSES} live universes beside {count} malformed datagrams: {said['heard']} of "
            f"{said['sent']} heard, {said['malformed']} told, {said['delay_ms']:.1f} ms after they came"
        )


if __name__ == "__main__":
    main()
