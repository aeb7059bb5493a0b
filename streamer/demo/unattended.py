"""The demo without a screen: real engine, real packets over loopback, every one of them checked."""

import os
import select
import time
from dataclasses import asdict, dataclass

from streamer.demo.witness import Witness
from streamer.display.model import Display, Protocol
from streamer.display.numbering import universe_text
from streamer.display.patch import compile_patch
from streamer.display.sample import sample_display
from streamer.engine.client import EngineLink, client_name, start
from streamer.engine.messages import Change, Ended, Play, Refused, Setup, Show, Stop
from streamer.errors import LinkError
from streamer.net.receiver import UdpReceiver
from streamer.wire import artnet, e131

LOOPBACK = "127.0.0.1"
PORTS = {Protocol.E131: e131.PORT, Protocol.ARTNET: artnet.PORT}
SHOWS = ("walk", "tint", "count", "order", "ramp")
PACE = 20.0
READ_AT_ONCE = 1000
END_LIMIT_S = 5.0
TERMINATED_PACKETS = 3
"""ANSI E1.31-2018 clause 6.2.6."""


@dataclass(frozen=True, slots=True)
class Findings:
    """What was sent, what arrived, and what was checked."""

    display: Display
    witness: Witness
    ended: Ended

    @property
    def lost(self) -> int:
        """Packets missing by their sequence, or sent and never heard."""
        return sum(heard.lost for heard in self.witness.heard.values())

    @property
    def faults(self) -> list[str]:
        """Everything that was not right, in words."""
        found = list(self.witness.complaints)
        for (protocol, universe), heard in self.witness.heard.items():
            where = universe_text(protocol, universe)
            if not heard.packets:
                found.append(f"{where}: nothing arrived")
            if not heard.is_dark:
                found.append(f"{where}: was left lit")
            if protocol is Protocol.E131 and heard.terminated != TERMINATED_PACKETS:
                found.append(f"{where}: {heard.terminated} termination packets, not {TERMINATED_PACKETS}")
        if self.ended.counts.errors:
            found.append(f"sends failed: {self.ended.counts.errors}. {self.ended.last_error}")
        return found

    @property
    def all_right(self) -> bool:
        """Whether every frame that arrived was right, and every stream ended as it should."""
        return not self.faults

    def as_dict(self) -> dict[str, object]:
        """Return the findings for a script."""
        return {
            "display": self.display.name,
            "all_right": self.all_right,
            "sent": self.ended.model_dump(mode="json"),
            "arrived": [
                {"protocol": protocol.value, "universe": universe, "text": universe_text(protocol, universe)}
                | asdict(heard)
                for (protocol, universe), heard in self.witness.heard.items()
            ],
            "faults": self.faults,
            "foreign": dict(self.witness.foreign),
            "shows": list(SHOWS),
        }

    def text(self) -> str:
        """Return the findings in words."""
        counts, lateness = self.ended.counts, self.ended.lateness
        lines = [
            f"{self.display.name}: {', '.join(SHOWS)} over loopback, {self.ended.seconds:.1f} s.",
            f"Sent: {counts.frames} frames, {counts.packets} packets, {counts.octets} octets; {counts.late} late, "
            f"{counts.skipped} skipped; lateness p50 {lateness.p50_us:.0f} us, p99 {lateness.p99_us:.0f} us, "
            f"max {lateness.max_us:.0f} us.",
            "Arrived:",
        ]
        lines += [
            f"  {universe_text(protocol, universe):26} {heard.packets:5} packets, {heard.lost} lost, "
            f"{heard.wrong} wrong, {'dark' if heard.is_dark else 'LIT'} at the end"
            + (f", {heard.terminated} terminated" if protocol is Protocol.E131 else "")
            for (protocol, universe), heard in self.witness.heard.items()
        ]
        lines += [f"Not ours: {count} packets of {what}" for what, count in self.witness.foreign.items()]
        lines.append(
            "Checked: every octet of every header, sequence, and the slots against the pattern's own steps."
        )
        lines += [f"WRONG: {fault}" for fault in self.faults] or ["All right."]
        return "\n".join(lines)


def run_unattended(seconds: float) -> Findings:
    """Play the demo for `seconds` and check all of it; NetworkError when a port is taken."""
    display = sample_display()
    setup = Setup(display=display, seconds=None)
    witness = Witness(setup, compile_patch(display))
    receivers = {protocol: UdpReceiver(port, LOOPBACK) for protocol, port in PORTS.items()}
    try:
        link = start(f"demo-{os.getpid()}", client_name("ropewalk demo"))
        try:
            ended = _play(link, witness, receivers, seconds)
        finally:
            link.close()
    finally:
        for receiver in receivers.values():
            receiver.close()
    return Findings(display, witness, ended)


def _play(
    link: EngineLink, witness: Witness, receivers: dict[Protocol, UdpReceiver], seconds: float
) -> Ended:
    for number, pattern in enumerate(SHOWS):
        show = Show(pattern=pattern, pace=PACE)
        witness.expect(show)
        link.send(Change(show=show) if number else Play(setup=witness.setup, show=show))
        _listen(link, witness, receivers, seconds / len(SHOWS))
    link.send(Stop())
    ended = _listen(link, witness, receivers, END_LIMIT_S)
    if ended is None:
        raise LinkError(f"The engine did not end within {END_LIMIT_S:g} s.")
    _hear(witness, receivers)
    return ended


def _listen(
    link: EngineLink, witness: Witness, receivers: dict[Protocol, UdpReceiver], seconds: float
) -> Ended | None:
    """Hear what arrives for `seconds`, or until the run has ended."""
    limit_s = time.monotonic() + seconds
    while (left_s := limit_s - time.monotonic()) > 0:
        select.select([link.fileno(), *(r.fileno() for r in receivers.values())], [], [], left_s)
        _hear(witness, receivers)
        for report in link.receive():
            if isinstance(report, Ended):
                return report
            if isinstance(report, Refused):
                raise LinkError(report.reason)
        if not link.is_open:
            raise LinkError("The engine has gone without a word.")
    return None


def _hear(witness: Witness, receivers: dict[Protocol, UdpReceiver]) -> None:
    for protocol, receiver in receivers.items():
        while datagrams := receiver.receive(READ_AT_ONCE):
            for datagram in datagrams:
                witness.take(protocol, datagram.payload)
