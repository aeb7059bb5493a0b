"""How a run of `ropewalk send` went: in words, and as data for scripts."""

from collections.abc import Sequence
from dataclasses import dataclass

from streamer.cli.common import counted
from streamer.display.numbering import universe_text
from streamer.display.patch import Stream
from streamer.engine.flash_limit import flash_limit
from streamer.engine.messages import Counts, Ended, Setup, Show, Status

NOBODY_LISTENS = "ECONNREFUSED"
"""The host is there, but no program listens: told, but no fault of what was sent."""
AS_ASKED = frozenset({"time is up", "stopped"})
"""The engine's reasons of a run that nothing cut short."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a run ended, or that it goes on without this command."""

    run: str
    """Its name, for `ropewalk attach` and `ropewalk stop`."""
    setup: Setup
    show: Show
    streams: tuple[Stream, ...]
    route: str
    synchronization: str
    """Where synchronization packets go, in words; empty when there are none."""
    ended: Ended | None
    """None when it goes on."""
    conflicts: tuple[dict[str, object], ...] = ()
    """Other sources on universes of this run, with times since its beginning."""
    unheard: str = ""
    """Why other sources are not listened for, in words; empty when they are."""

    @property
    def is_clean(self) -> bool:
        """Whether every packet left this machine and nothing cut the run short."""
        if self.ended is None:
            return True
        ended = self.ended
        is_all_gone = not (set(ended.counts.errors) - {NOBODY_LISTENS} or ended.carrier_lost)
        return ended.reason in AS_ASKED and is_all_gone

    def as_dict(self) -> dict[str, object]:
        """Return what a script wants to know."""
        return {
            "ok": self.is_clean,
            "run": self.run,
            "pattern": self.show.pattern,
            "params": self.show.params,
            "level_percent": self.show.level_percent,
            "rate_hz": self.show.rate_hz,
            "flashes_per_s": flash_limit(self.setup),
            "route": self.route,
            "synchronization": self.synchronization,
            "universes": [_universe(stream) for stream in self.streams],
            "ended": self.ended.model_dump(mode="json", exclude={"kind"}) if self.ended else None,
            "conflicts": list(self.conflicts),
            "unheard": self.unheard,
        }


def _universe(stream: Stream) -> dict[str, object]:
    key = stream.key
    return {
        "protocol": key.protocol.value,
        "universe": key.universe,
        "text": universe_text(key.protocol, key.universe),
        "address": key.address,
    }


def status_text(status: Status) -> str:
    """Return the line of a moment while it plays."""
    text = f"{status.seconds:.0f} s: {status.now_showing}; {_sent(status.counts)}"
    if status.counts.late or status.counts.skipped:
        text += f", {status.counts.late} late, {status.counts.skipped} skipped"
    if status.dimmed:
        text += f"; dimmed for its current: {', '.join(dimmed.words for dimmed in status.dimmed)}"
    return f"{text}. {complaints_text(status.complaints)}" if status.complaints else text


def complaints_text(complaints: Sequence[str]) -> str:
    """Return the first of them, and how many more there are."""
    more = len(complaints) - 1
    return f"{complaints[0]}." + (f" And {counted(more, 'more complaint')}." if more else "")


def ended_text(ended: Ended) -> str:
    """Return the last line."""
    counts, lateness = ended.counts, ended.lateness
    errors = ", ".join(f"{count} x {name}" for name, count in counts.errors.items())
    text = (
        f"Dark and ended: {ended.reason}. {_sent(counts)} in {ended.seconds:.1f} s; {counts.late} late, "
        f"{counts.skipped} skipped, {counts.held} held, {counts.dimmed} dimmed; "
        f"lateness p50 {lateness.p50_us:.0f} us, p99 {lateness.p99_us:.0f} us, max {lateness.max_us:.0f} us."
    )
    text = f"{text} Send errors: {errors}." if errors else text
    return f"{text} {complaints_text(ended.complaints)}" if ended.complaints else text


def _sent(counts: Counts) -> str:
    return f"{counted(counts.frames, 'frame')}, {counted(counts.packets, 'packet')}"
