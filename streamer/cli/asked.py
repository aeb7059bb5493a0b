"""What `ropewalk send` was asked: its options, checked together, as a setup and a show."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from patterns.plain import Pattern, PatternError
from patterns.registry import get, settle
from streamer.cli.order import check_pattern_then_file
from streamer.cli.sent_to import check_addresses, sent_to
from streamer.cli.synchronizing import sync_gap_ms, with_art_sync, with_priority, with_sync_address
from streamer.display.model import MULTICAST, Display, Protocol
from streamer.display.places import plain
from streamer.display.ranges import display_from_ranges, parse_ranges
from streamer.engine.flash_limit import flash_limit
from streamer.engine.messages import Leash, Setup, Show
from streamer.errors import FieldError, PlanError, Problem
from streamer.wire.acn import source_name_octets

LISTED_PORTS = 12
NODES_DEFAULT = 170
"""As many RGB nodes as 512 slots hold."""


@dataclass(frozen=True, slots=True)
class Asked:
    """The options of the command, checked one by one but not yet together."""

    pattern: str
    file: Path | None
    ranges: str | None
    nodes: int | None
    protocol: str | None
    to: tuple[str, ...]
    interface: str | None
    rate: float
    level: float
    flashes: int | None
    understood: str
    seconds: float | None
    record: Path | None
    priority: int | None
    sync: int | None
    art_sync: bool
    sync_gap: float | None
    ttl: int
    source_name: str
    ports: tuple[str, ...]
    pace: float | None
    every_frame: bool
    spread: float | None
    settings: tuple[str, ...]
    free: bool
    anyway: bool
    as_json: bool

    def setup(self, in_file: Display | None) -> Setup:
        """Return where to send and how, `in_file` being what FILE plans; PlanError with what is wrong."""
        try:
            source_name_octets(self.source_name)
        except FieldError as error:
            raise PlanError([Problem("--source-name", str(error), "It is what receivers list")]) from error
        display = self._display(in_file)
        setup = Setup(
            display=display,
            interface=self.interface,
            ttl=self.ttl,
            source_name=self.source_name,
            every_frame=self.every_frame,
            spread=self.spread,
            sync_gap_ms=sync_gap_ms(display, self.sync_gap),
            seconds=self.seconds,
            record=self.record.absolute() if self.record else None,
            leash=Leash.FREE if self.free else Leash.LEASHED,
            flashes_per_s=self.flashes,
            understood=self.understood,
        )
        flash_limit(setup)
        return setup

    def remarks(self) -> Iterator[str]:
        """Yield what is passed over, since the display file says it."""
        if self.file is not None:
            given = {"--protocol": self.protocol, "--nodes": self.nodes}
            for option, value in given.items():
                if value is not None:
                    yield f"{option} is for -u and passed over: {plain(str(self.file))} says that itself."

    def check_order(self) -> None:
        """Raise PlanError where the display is told twice, or the other way round."""
        if self.file is not None and self.ranges is not None:
            what = f"there is a display FILE, {plain(str(self.file))}, and universes with -u"
            raise PlanError([Problem("send", what, "Take out one of the two")])
        check_pattern_then_file(self.pattern, self.file)

    def _display(self, in_file: Display | None) -> Display:
        protocol = Protocol(self.protocol or Protocol.E131)
        display = self._of_ranges(protocol) if in_file is None else sent_to(in_file, self.to)
        if self.priority is not None:
            display = with_priority(display, self.priority)
        if self.sync is not None:
            display = with_sync_address(display, self.sync)
        return with_art_sync(display) if self.art_sync else display

    def _of_ranges(self, protocol: Protocol) -> Display:
        if self.ranges is None:
            instead = "Write -u and ranges, such as -u 1-4, or the name of a display file"
            raise PlanError([Problem("send", "it is not said which universes", instead)])
        universes = parse_ranges(self.ranges, protocol)
        check_addresses(self.to, protocol)
        if not self.to and protocol is Protocol.ARTNET:
            instead = "Write --to and the controller's address, such as --to 192.168.7.20"
            raise PlanError([Problem("--to", "Art-Net needs to know where to", instead)])
        nodes = NODES_DEFAULT if self.nodes is None else self.nodes
        return display_from_ranges(universes, protocol, self.to or (MULTICAST,), nodes_per_universe=nodes)

    def show(self, display: Display) -> Show:
        """Return what is to be shown; PlanError when the pattern, a parameter or a port is wrong."""
        problems = list(self._unknown_ports(display))
        pairs = dict(_pairs(self.settings, problems))
        try:
            pattern = get(self.pattern)
            params = settle(pattern, pairs)
        except PatternError as error:
            problems += [Problem("PATTERN", each, "See: ropewalk patterns") for each in error.problems]
        else:
            problems += self._against_bursts(pattern)
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

    def _against_bursts(self, pattern: Pattern) -> Iterator[Problem]:
        """Yield what would hide the losses that a pattern of bursts is to show."""
        what = f"{pattern.name} sends each picture once and all at one moment, so that losses show"
        for option, is_given in {"--spread": self.spread, "--every-frame": self.every_frame}.items():
            if pattern.bursts and is_given:
                yield Problem(option, what, "Leave it out")

    def _unknown_ports(self, display: Display) -> Iterator[Problem]:
        names = [port.name for port in display.ports]
        listed = ", ".join(map(plain, names[:LISTED_PORTS])) + (", ..." if len(names) > LISTED_PORTS else "")
        for name in self.ports:
            if name not in names:
                yield Problem("--only", f"there is no port {name!r}", f"The ports are {listed}")


def _pairs(settings: tuple[str, ...], problems: list[Problem]) -> Iterator[tuple[str, str]]:
    """Yield names and values; what is no such pair goes to the problems."""
    for setting in settings:
        name, sign, value = setting.partition("=")
        if sign:
            yield name, value
        else:
            problems.append(Problem("-p", f"{name!r} has no value", f"Write -p {plain(name)}=VALUE"))
