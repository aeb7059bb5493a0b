"""What `ropewalk send` does: from options to a run, and its outcome. It prints only through `tell`."""

import os
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

from patterns.plain import PatternError
from patterns.registry import get, settle
from streamer.display.file import load
from streamer.display.model import Controller, Display, Protocol
from streamer.display.numbering import universe_text
from streamer.display.ranges import display_from_ranges, parse_ranges, readdress
from streamer.engine.client import EngineLink, client_name, start
from streamer.engine.messages import Ended, Leash, Loosen, Play, Refused, Setup, Show, Status, Stop
from streamer.engine.waiting import reports
from streamer.errors import LinkError, PlanError, Problem

TELL_PERIOD_S = 1.0
LISTED_UNIVERSES = 12
Tell = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Asked:
    """The options of the command, checked one by one but not yet together."""

    pattern: str
    file: Path | None
    ranges: str | None
    nodes: int
    protocol: str
    to: tuple[str, ...]
    interface: str | None
    rate: float
    level: float
    seconds: float | None
    priority: int | None
    ttl: int
    source_name: str
    ports: tuple[str, ...]
    pace: float | None
    every_frame: bool
    settings: tuple[str, ...]
    free: bool
    as_json: bool

    def display(self) -> Display:
        """Return the display meant; PlanError with everything wrong."""
        if (self.file is None) == (self.ranges is None):
            raise PlanError([Problem("send", "say either a display FILE or universes", "Try -u 1-4")])
        if self.file is None:
            protocol = Protocol(self.protocol)
            universes = parse_ranges(self.ranges or "", protocol)
            addresses = self.to or self._default_address(protocol)
            display = display_from_ranges(universes, protocol, addresses, nodes_per_universe=self.nodes)
        else:
            display = load(self.file)
            if self.to:
                display = readdress(display, self.to)
        return display if self.priority is None else _with_priority(display, self.priority)

    @staticmethod
    def _default_address(protocol: Protocol) -> tuple[str, ...]:
        if protocol is Protocol.E131:
            return ("multicast",)
        raise PlanError([Problem("--to", "Art-Net needs to know where to", "Write --to and the controller's address")])

    def show(self, display: Display) -> Show:
        """Return what is to be shown; PlanError when the pattern, a parameter or a port is wrong."""
        names = [port.name for port in display.ports]
        problems = [
            Problem("--only", f"there is no port {name!r}", f"The ports are {', '.join(names)}")
            for name in self.ports
            if name not in names
        ]
        try:
            pattern = get(self.pattern)
            params = settle(pattern, _pairs(self.settings))
        except PatternError as error:
            problems.append(Problem("PATTERN", str(error), "See `ropewalk patterns`"))
        if problems:
            raise PlanError(problems)
        return Show(
            pattern=pattern.name,
            params=params,
            pace=self.pace,
            ports=self.ports or None,
            level_percent=self.level,
            rate_hz=self.rate,
        )


def _pairs(settings: tuple[str, ...]) -> dict[str, str]:
    pairs = [setting.partition("=") for setting in settings]
    wrong = [name for name, sign, _ in pairs if not sign]
    if wrong:
        raise PlanError([Problem("-p", f"{name!r} has no value", f"Write -p {name}=VALUE") for name in wrong])
    return {name: value for name, _, value in pairs}


def _with_priority(display: Display, priority: int) -> Display:
    def raised(controller: Controller) -> Controller:
        return controller.model_copy(update={"priority": priority})

    return display.model_copy(update={"controllers": tuple(map(raised, display.controllers))})


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a run ended."""

    setup: Setup
    show: Show
    ended: Ended | None
    """None when the run goes on without this command."""

    @property
    def is_clean(self) -> bool:
        """Whether every packet left this machine; a host that does not listen is told, but is no fault here."""
        return self.ended is None or not set(self.ended.counts.errors) - {"ECONNREFUSED"}

    def as_dict(self) -> dict[str, object]:
        """Return what a script wants to know."""
        return {
            "pattern": self.show.pattern,
            "params": self.show.params,
            "level_percent": self.show.level_percent,
            "rate_hz": self.show.rate_hz,
            "universes": _universes(self.setup.display),
            "ended": self.ended.model_dump(mode="json") if self.ended else None,
        }


def _universes(display: Display) -> list[dict[str, object]]:
    from streamer.display.patch import compile_patch

    return [
        {
            "protocol": stream.key.protocol.value,
            "universe": stream.key.universe,
            "text": universe_text(stream.key.protocol, stream.key.universe),
            "address": stream.key.address,
        }
        for stream in compile_patch(display).streams
    ]


class Sending:
    """One run, from its options to its end."""

    def __init__(self, asked: Asked) -> None:
        self._asked = asked
        display = asked.display()
        self._show = asked.show(display)
        self._setup = Setup(
            display=display,
            interface=asked.interface,
            ttl=asked.ttl,
            source_name=asked.source_name,
            every_frame=asked.every_frame,
            seconds=asked.seconds,
            leash=Leash.FREE if asked.free else Leash.LEASHED,
        )
        self._stopping = False

    def run(self, tell: Tell) -> Outcome:
        """Play until the time is up or a signal comes; LinkError when the engine refuses or vanishes."""
        name = f"send-{os.getpid()}"
        for line in self._summary():
            tell(line)
        for signal_name in ("SIGINT", "SIGTERM", "SIGHUP"):
            if hasattr(signal, signal_name):
                signal.signal(getattr(signal, signal_name), self._on_signal)
        link = start(name, client_name("ropewalk send"))
        try:
            link.send(Play(setup=self._setup, show=self._show))
            ended = self._follow(link, tell)
        finally:
            link.close()
        if ended is None:
            tell(f"It goes on as {name}. To end it: ropewalk stop {name}")
        else:
            tell(_ended_text(ended))
        return Outcome(self._setup, self._show, ended)

    def _follow(self, link: EngineLink, tell: Tell) -> Ended | None:
        told_s, is_asked = time.monotonic(), False
        while True:
            for report in reports(link, TELL_PERIOD_S / 10):
                if isinstance(report, Ended):
                    return report
                if isinstance(report, Refused):
                    raise LinkError(report.reason)
                if isinstance(report, Status) and time.monotonic() - told_s >= TELL_PERIOD_S:
                    told_s = time.monotonic()
                    tell(_status_text(report))
            if self._stopping and self._asked.free:
                link.send(Loosen(leash=Leash.FREE))
                return None
            if self._stopping and not is_asked:
                is_asked = True
                link.send(Stop())

    def _on_signal(self, _number: int, _frame: FrameType | None) -> None:
        self._stopping = True

    def _summary(self) -> list[str]:
        universes = _universes(self._setup.display)
        lines = [f"{self._show.pattern} at {self._show.level_percent:g} % on {len(universes)} universes:"]
        lines += [f"  {row['text']} to {row['address']}" for row in universes[:LISTED_UNIVERSES]]
        if len(universes) > LISTED_UNIVERSES:
            lines.append(f"  and {len(universes) - LISTED_UNIVERSES} more")
        return lines


def _status_text(status: Status) -> str:
    counts = status.counts
    text = f"{status.seconds:.0f} s: {status.now_showing}; {counts.frames} frames, {counts.packets} packets"
    if counts.late or counts.skipped:
        text += f", {counts.late} late, {counts.skipped} skipped"
    return f"{text}. {status.last_error}" if status.last_error else text


def _ended_text(ended: Ended) -> str:
    counts, lateness = ended.counts, ended.lateness
    errors = ", ".join(f"{count} x {name}" for name, count in counts.errors.items())
    text = (
        f"Dark and ended: {ended.reason}. {counts.frames} frames, {counts.packets} packets in "
        f"{ended.seconds:.1f} s; {counts.late} late, {counts.skipped} skipped, {counts.held} held; "
        f"lateness p50 {lateness.p50_us:.0f} us, p99 {lateness.p99_us:.0f} us, max {lateness.max_us:.0f} us."
    )
    return f"{text} Send errors: {errors}. {ended.last_error}" if errors else text
