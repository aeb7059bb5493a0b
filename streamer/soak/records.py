"""What a night run writes down: what it was, a sample every few seconds, what happened from when to when.

Plain frozen values; no file, no clock. Times come from a `RunClock`, which is told what the clocks said.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


@dataclass(frozen=True, slots=True)
class Moment:
    """One moment of a run by two clocks."""

    unix_s: float
    """By the clock on the wall, which may be set: seconds since 1970 in UTC."""
    run_s: float
    """Since the run began, by a clock that is never set; a gap where it was broken off is counted in."""


@dataclass(frozen=True, slots=True)
class RunClock:
    """Makes moments of a run from what the clocks say: `monotonic_s` by one and the same clock throughout.

    `time.clock_gettime(time.CLOCK_BOOTTIME)` goes on while the machine sleeps; CLOCK_MONOTONIC does not.
    """

    shift_s: float
    """What is added to the monotonic clock to give the time of the run."""

    def moment(self, unix_s: float, monotonic_s: float) -> Moment:
        """Return the moment at which the clocks say this."""
        return Moment(unix_s, monotonic_s + self.shift_s)


@dataclass(frozen=True, slots=True)
class ControllerFacts:
    """A controller as the display file has it."""

    name: str
    address: str
    protocol: str
    """"e131" or "artnet"."""
    universes: int


@dataclass(frozen=True, slots=True)
class RunFacts:
    """What a run is, as it was begun."""

    display_file: str
    display: str
    """The display's own name."""
    fingerprint: str
    """SHA-256 of the display file's octets in hexadecimal: whether it is still the same file."""
    programme: str
    asked_s: float
    """For how long it was to run, `--until` counted from the beginning; 0 where no end was set."""
    version: str
    host: str
    interface: str
    """Empty where the system chose."""
    universes: tuple[str, ...]
    """In words: "universe 7", as the display's plan tells them."""
    controllers: tuple[ControllerFacts, ...]
    rate_hz: float
    level_percent: float
    supplies: tuple[str, ...] = ()
    """Their names in the display file."""
    supply_limits_a: Mapping[str, float] = field(default_factory=dict)
    """What each may give for hours; not there in runs of versions that did not write it."""
    steps: tuple[str, ...] = ()
    """What the programme goes through, in words; `Sample.step` counts in it."""
    utc_offset_minutes: int = 0
    """Of the clock on the wall when it began."""
    sample_s: float = 5
    """How often a sample is taken."""
    to: str = ""
    """Where all was sent; empty where each controller had its own address."""
    pinned_to: str = ""
    """The interface that was asked for; empty where none was."""
    flashes_per_s: int | None = None
    """The most flashes in any second that were asked for; None: as the display file has it."""
    every_frame: bool = False
    is_by_the_wall: bool = False
    """Whether it was to end at a time of day."""


@dataclass(frozen=True, slots=True)
class Lateness:
    """How late frames left, of those since the last sample; zeros where there were none."""

    p50_ms: float = 0
    p99_ms: float = 0
    p999_ms: float = 0
    max_ms: float = 0


@dataclass(frozen=True, slots=True)
class ControllerSample:
    """How one controller answered since the last sample."""

    name: str
    polls_asked: int = 0
    """ArtPoll; 0 where it does not speak Art-Net."""
    polls_answered: int = 0
    echoes_asked: int = 0
    """ICMP echo; 0 where the system does not let us."""
    echoes_answered: int = 0
    round_trip_ms: float | None = None
    """The longest of those that were answered."""

    @property
    def is_there(self) -> bool | None:
        """Whether it answered anything; None where nothing was asked."""
        if not self.polls_asked + self.echoes_asked:
            return None
        return self.polls_answered + self.echoes_answered > 0


@dataclass(frozen=True, slots=True)
class HostSample:
    """How this machine did."""

    load: float | None = None
    """Processes that wanted to run, a minute's average; None where the system does not say."""
    temperature_c: float | None = None
    """Of the hottest sensor; None where there is none."""
    memory_octets: int = 0
    """Resident, of all our processes together."""


@dataclass(frozen=True, slots=True)
class Sample:
    """What happened since the sample before. Counts are of that time, not since the beginning."""

    at: Moment
    frames_sent: int = 0
    frames_late: int = 0
    frames_skipped: int = 0
    """Whose moment passed altogether."""
    frames_failed: int = 0
    """Of which at least one packet was refused by the system."""
    packets: int = 0
    errors: Mapping[str, int] = field(default_factory=dict)
    """Packets refused, by the name of the error: "ENETUNREACH"."""
    lateness: Lateness = Lateness()
    amps: Mapping[str, float] = field(default_factory=dict)
    """What the frames called for, by supply, the most within the time."""
    amps_total: float | None = None
    """Of the whole display; None where its power is not known."""
    has_carrier: bool | None = None
    """Whether the cable leads anywhere; None where not known."""
    address: str = ""
    """Of the interface: empty where it has none, or none was chosen."""
    controllers: tuple[ControllerSample, ...] = ()
    """Those asked; in the order of `RunFacts.controllers`."""
    host: HostSample = HostSample()
    step: int = 0
    """Which of `RunFacts.steps` was up."""


UNNAMED_SUPPLY = ""
"""Stands in `Sample.amps` for whatever feeds the ports whose supply the display file does not name."""


class EventKind(StrEnum):
    """What happened. One that lasts is one event, with its beginning and its end."""

    STARTED = "started"
    ENDED = "ended"
    STEP = "programme step"
    STREAM_STOPPED = "stream stopped"
    """Until it was resumed."""
    LINK_DOWN = "link down"
    ADDRESS_CHANGED = "address changed"
    INTERFACE_GONE = "interface gone"
    NO_ROUTE = "no route"
    SEND_ERROR = "send error"
    CONTROLLER_GONE = "controller gone"
    CONTROLLER_REBOOTED = "controller rebooted"
    OTHER_SOURCE = "other source"
    CLOCK_STEPPED = "clock stepped"
    ASLEEP = "machine asleep"
    DISK_FULL = "disk full"
    """The journal could not be written: until there was room again."""
    NOT_KEPT = "journal not kept"
    """It could not be written for another reason, which the words give."""
    JOURNAL_GAP = "journal gap"
    """The run was broken off, and resumed: nothing is known of the time between."""
    TERMINAL_CLOSED = "terminal closed"
    CONTROL_TAKEN = "control taken"
    """By a person at a screen, who is the subject: until they left."""
    DARKENED = "made dark by hand"
    """By a person, who is the subject: until a person lit it again."""
    NOTE = "note"
    """Anything else that deserves a line."""


class Severity(StrEnum):
    """What an event means for the verdict."""

    NOTICE = "notice"
    """As planned: it means nothing for the verdict."""
    REMARK = "remark"
    """Passed, but look at this."""
    FAILURE = "failure"
    """Not to be trusted before this is understood."""


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened. Of one kind and subject at most one is open at a time."""

    kind: EventKind
    subject: str
    """Whom it is about: a controller, an interface, another source; empty for the run itself."""
    words: str
    """A sentence's worth for a person, without the kind, the subject and the times."""
    severity: Severity
    began_at: Moment
    ended_at: Moment | None = None
    """The same as `began_at` for what has no length; None while it lasts."""

    @property
    def length_s(self) -> float | None:
        """How long it lasted; None while it is open."""
        return None if self.ended_at is None else max(0.0, self.ended_at.run_s - self.began_at.run_s)


class EndReason(StrEnum):
    """Why a run ended."""

    TIME_UP = "time is up"
    STOPPED = "stopped by hand"
    FAILED = "could not go on"


@dataclass(frozen=True, slots=True)
class Ended:
    """How a run ended."""

    at: Moment
    reason: EndReason
    words: str = ""
    """What kept it from going on."""


@dataclass(frozen=True, slots=True)
class RunRecord:
    """A run of the journal, without its samples and events."""

    number: int
    """From 1, in the order of beginning."""
    facts: RunFacts
    began_at: Moment
    ended: Ended | None
    """None while it runs, or when it was broken off."""
    last_at: Moment
    """The last moment that anything is known of."""
