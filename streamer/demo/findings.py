"""What the unattended demo found: in words, and as data with keys that stay."""

from collections.abc import Iterator
from dataclasses import asdict, dataclass

from streamer.demo.lights import Look
from streamer.demo.witness import Heard, Witness
from streamer.display.model import Display, Protocol
from streamer.display.numbering import universe_text
from streamer.display.patch import StreamKey
from streamer.engine.messages import Ended
from streamer.wire.e131 import TERMINATED_PACKETS

CHECKED = (
    "Checked: every octet of every packet, against what ANSI E1.31-2018 and Art-Net 4 ask for; one CID;",
    "the sequences; slots that are those of the pattern's own steps, none before one seen; lights dark and",
    "streams ended; and what the virtual controllers' lights show, at the end of each show.",
)


@dataclass(frozen=True, slots=True)
class Findings:
    """What was sent, what arrived, and what was checked."""

    display: Display
    witness: Witness
    looks: tuple[Look, ...]
    """One at the end of each show, and one after the end of the run."""
    ended: Ended
    unheard: int
    """Packets that the system dropped before they could be read: this machine was too slow for them."""

    @property
    def missing(self) -> int:
        """Packets that were sent and did not arrive; below 0 if more arrived than were sent."""
        return self.ended.counts.packets - self.witness.ours

    @property
    def faults(self) -> list[str]:
        """Everything that was not right, in words."""
        return [
            *self.witness.complaints,
            *self._stream_faults(),
            *self._look_faults(),
            *self._sending_faults(),
        ]

    @property
    def all_right(self) -> bool:
        """Whether all that arrived was right, nothing is missing without reason, and all ended well."""
        return not self.faults

    def _stream_faults(self) -> Iterator[str]:
        for key, heard in self.witness.heard.items():
            where = _where(key)
            if not heard.packets:
                yield f"{where}: nothing arrived"
            if not heard.is_dark:
                yield f"{where}: was left lit"
            if key.protocol is Protocol.E131 and heard.terminated != TERMINATED_PACKETS:
                yield f"{where}: {heard.terminated} terminations, not {TERMINATED_PACKETS}"

    def _look_faults(self) -> Iterator[str]:
        for look in self.looks:
            if not look.is_right:
                yield (
                    f"{look.show}, step {look.step + 1}: {look.nodes_wrong} nodes and {look.channels_wrong} "
                    "fixture channels do not show what the pattern has"
                )

    def _sending_faults(self) -> Iterator[str]:
        if self.missing < 0:
            yield f"{-self.missing} packets more arrived than were sent"
        if self.missing > self.unheard:
            yield f"{self.missing} packets were sent and did not arrive, and nothing here dropped them"
        if self.ended.counts.errors:
            yield f"sends failed: {self.ended.counts.errors}. {' '.join(self.ended.complaints)}"

    def as_dict(self) -> dict[str, object]:
        """Return the findings for a script."""
        return {
            "all_right": self.all_right,
            "faults": self.faults,
            "display": self.display.name,
            "shows": [look.show for look in self.looks],
            "sent": self.ended.model_dump(mode="json", exclude={"kind"}),
            "missing": self.missing,
            "unheard": self.unheard,
            "arrived": [_arrived(key, heard) for key, heard in self.witness.heard.items()],
            "lights": [asdict(look) | {"right": look.is_right} for look in self.looks],
            "discovery": None if self.witness.discovered is None else list(self.witness.discovered),
            "foreign": dict(self.witness.foreign),
        }

    def text(self) -> str:
        """Return the findings in words."""
        lines = [
            f"{self.display.name}: {len(self.looks)} looks over loopback in {self.ended.seconds:.1f} s.",
            _sent_line(self.ended),
            f"Arrived: {self.witness.ours} packets, {self.missing} missing.",
            *(_heard_line(key, heard) for key, heard in self.witness.heard.items()),
            "The lights showed:",
            *map(_look_line, self.looks),
            _discovery_line(self.witness.discovered),
            *(f"Not ours: {count} packets: {what}" for what, count in self.witness.foreign.items()),
            *CHECKED,
        ]
        if self.unheard:
            lines.append(f"This machine was too slow to hear {self.unheard} packets; they were not checked.")
        return "\n".join([*lines, *([f"WRONG: {fault}" for fault in self.faults] or ["All right."])])


def _where(key: StreamKey) -> str:
    return universe_text(key.protocol, key.universe)


def _arrived(key: StreamKey, heard: Heard) -> dict[str, object]:
    where = {
        "protocol": key.protocol.value,
        "universe": key.universe,
        "text": _where(key),
        "address": key.address,
    }
    return where | asdict(heard)


def _sent_line(ended: Ended) -> str:
    counts, lateness = ended.counts, ended.lateness
    return (
        f"Sent: {counts.frames} frames, {counts.packets} packets, {counts.octets} octets; "
        f"{counts.late} late, {counts.skipped} skipped; lateness p50 {lateness.p50_us:.0f} us, "
        f"p99 {lateness.p99_us:.0f} us, max {lateness.max_us:.0f} us."
    )


def _heard_line(key: StreamKey, heard: Heard) -> str:
    ended = f", {heard.terminated} terminations" if key.protocol is Protocol.E131 else ""
    return (
        f"  {_where(key):24} {heard.packets:5} packets, {heard.lost} lost, {heard.wrong} wrong, "
        f"{'dark' if heard.is_dark else 'LIT'} at the end{ended}"
    )


def _look_line(look: Look) -> str:
    where = f"{look.show}, step {look.step + 1}"
    if look.is_right:
        return f"  {where:24} {look.nodes} nodes, {look.channels} channels: as the pattern has it"
    return f"  {where:24} {look.nodes_wrong} nodes, {look.channels_wrong} channels WRONG"


def _discovery_line(universes: tuple[int, ...] | None) -> str:
    if universes is None:
        return "Universe discovery: not heard; groups do not work on this machine's loopback."
    return f"Universe discovery: heard, for the universes {', '.join(map(str, universes))}."
