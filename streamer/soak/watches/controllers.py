"""The controllers: whether each answers ArtPoll or an echo, since when not, and who was switched off."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from streamer.display.model import GROUPS, Controller, Protocol
from streamer.net.echo import EchoNotAllowedError
from streamer.soak.findings import Finding, Quiet
from streamer.soak.probes import Answer, Probe
from streamer.soak.records import ControllerSample, EventKind, Sample, Severity

GONE_S = 7.0
"""Two polls, the 3 s that a device may take to answer the second (Art-Net 4, ArtPoll), and seven echoes:
where a fifth of all answers is lost on the way, so many in a row are lost about once in a hundred nights."""
UNECHOED_GONE_S = 18.0
"""Of one that answers no echo: six polls, which all are lost as seldom where a tenth is."""
HANGS_S = 30.0
"""Ten polls, of one that answers its echoes: nobody waits for this, and it must not be said lightly."""
ECHO_FRESH_S = 4.0
"""So long after its last echo a controller's network is taken to work."""
NEVER_HEARD_S = 12.0
AWAY_S = 2.0
"""So long after the last look nobody has asked, as while a slow disk took its time: that is not counted."""
SLEPT_S = 10.0
"""After so long all begins anew: the machine slept, and a network takes its time to wake up."""
LOOK_EACH_S = 1.0
MS_PER_S = 1000

OpenProbe = Callable[[Sequence[str]], Probe]


@dataclass(slots=True)
class _Known:
    """What is known of one controller."""

    name: str
    is_artnet: bool
    since_s: float
    """Since when it has been asked without a break of our own."""
    poll_s: float | None = None
    echo_s: float | None = None
    """When it answered last."""
    unasked_s: float = 0.0
    """Of the time since it answered anything, so much is not counted: nobody asked."""
    unpolled_s: float = 0.0
    """The same of the time since it answered a poll."""
    is_polled: bool = False
    """Whether a poll is open."""
    told: ControllerSample = field(default_factory=lambda: ControllerSample(""))
    """Since the last sample."""

    @property
    def heard_s(self) -> float | None:
        """When it answered anything last; None if never."""
        return max((each for each in (self.poll_s, self.echo_s) if each is not None), default=None)


class ControllerWatch(Quiet):
    """Asks every controller that has an address of its own. While our own link is down nobody is asked."""

    name = "the controllers"

    def __init__(
        self,
        controllers: Iterable[Controller],
        open_polls: OpenProbe,
        open_echoes: OpenProbe,
        is_link_up: Callable[[], bool],
        times_made: Callable[[], int],
    ) -> None:
        """Watch these; when `times_made`, of the interface, grows, so do sockets need to be made anew."""
        own = [each for each in controllers if each.address not in GROUPS]
        self._known: dict[str, list[_Known]] = {}
        for each in own:
            known = _Known(each.name, each.protocol is Protocol.ARTNET, 0.0)
            self._known.setdefault(each.address, []).append(known)
        self._open_polls, self._open_echoes = open_polls, open_echoes
        self._is_link_up, self._times_made = is_link_up, times_made
        self._made = 0
        self._was_up = False
        self._polls: Probe | None = None
        self._echoes: Probe | None = None
        self._may_echo = True
        self._looked_s = float("-inf")
        self._now_s = 0.0
        self._news: list[Finding] = []
        self._complaints: dict[str, str] = {}

    def look(self, now_s: float) -> None:
        """Hear who has answered, and ask when it is time."""
        away_s, self._now_s = now_s - self._now_s, now_s
        if away_s > SLEPT_S:
            self._was_up = False
        elif away_s > AWAY_S:
            self._pass_over(away_s)
        if not self._known or not self._has_link(now_s):
            return
        self._open()
        self._hear(now_s)
        self._ask(now_s)
        if self._polls and now_s - self._looked_s >= LOOK_EACH_S:
            self._looked_s = now_s
            for address, words in self._polls.restarts(now_s):
                for known in self._known.get(address, ()):
                    self._news.append(Finding(EventKind.CONTROLLER_REBOOTED, known.name, words))
            self._complaints = dict(self._polls.complaints(now_s))

    def findings(self) -> Sequence[Finding]:
        """Return who is gone, and who says that something is wrong."""
        return [
            finding
            for address, sharing in self._known.items()
            for known in sharing
            for finding in self._of_one(address, known)
        ]

    def news(self) -> Iterable[Finding]:
        """Return what has happened since this was asked last."""
        news, self._news = self._news, []
        return news

    def add_to(self, sample: Sample) -> Sample:
        """Return the sample with how each has answered since the last one."""
        told = []
        for known in (each for sharing in self._known.values() for each in sharing):
            told.append(replace(known.told, name=known.name))
            known.told = ControllerSample("")
        return replace(sample, controllers=tuple(told))

    def filenos(self) -> Sequence[int]:
        """Return the sockets on which answers come."""
        return [each for probe in (self._polls, self._echoes) if probe for each in probe.filenos()]

    def close(self) -> None:
        """Free the ports."""
        for probe in (self._polls, self._echoes):
            if probe:
                probe.close()
        self._polls = self._echoes = None

    def _pass_over(self, away_s: float) -> None:
        for known in self._of(self._known):
            known.unasked_s += away_s
            known.unpolled_s += away_s

    def _has_link(self, now_s: float) -> bool:
        was_up, self._was_up = self._was_up, self._is_link_up()
        if self._was_up and not was_up:
            # What was not heard meanwhile is not their fault.
            for known in self._of(self._known):
                known.since_s, known.is_polled = now_s, False
                known.unasked_s = known.unpolled_s = 0.0
        return self._was_up

    def _open(self) -> None:
        if self._made != self._times_made():
            self._made = self._times_made()
            self.close()
        addresses = tuple(self._known)
        if self._polls is None:
            self._polls = self._open_polls(addresses)
        if self._echoes is None and self._may_echo:
            self._echoes = self._open_echoes(addresses)

    def _ask(self, now_s: float) -> None:
        if self._polls:
            for known in self._of(self._polls.ask(now_s)):
                known.is_polled = True
                # Of those that need not speak Art-Net, only polls that are answered are told.
                if known.is_artnet or known.poll_s is not None:
                    known.told = replace(known.told, polls_asked=known.told.polls_asked + 1)
        if self._echoes:
            try:
                asked = self._echoes.ask(now_s)
            except EchoNotAllowedError as error:
                self._may_echo = False
                self._echoes.close()
                self._echoes = None
                self._news.append(Finding(EventKind.NOTE, "echo", str(error), Severity.NOTICE))
                return
            for known in self._of(asked):
                known.told = replace(known.told, echoes_asked=known.told.echoes_asked + 1)

    def _hear(self, now_s: float) -> None:
        for answer in self._polls.answers(now_s) if self._polls else ():
            for known in self._of([answer.address]):
                known.poll_s = now_s
                known.unasked_s = known.unpolled_s = 0.0
                if known.is_polled:
                    # It has a reply for each of its parts; one is enough.
                    known.is_polled = False
                    known.told = replace(known.told, polls_answered=known.told.polls_answered + 1)
        for answer in self._echoes.answers(now_s) if self._echoes else ():
            for known in self._of([answer.address]):
                known.echo_s, known.unasked_s = now_s, 0.0
                known.told = _echoed(known.told, answer)

    def _of(self, addresses: Iterable[str]) -> Iterator[_Known]:
        for address in addresses:
            yield from self._known.get(address, ())

    def _of_one(self, address: str, known: _Known) -> Iterator[Finding]:
        if address in self._complaints:
            yield Finding(EventKind.NOTE, known.name, self._complaints[address], Severity.FAILURE)
        if not self._was_up:
            return
        if known.heard_s is None:
            asked_s = self._now_s - known.since_s - known.unasked_s
            if asked_s >= NEVER_HEARD_S and (known.is_artnet or self._may_echo):
                yield _never(address, known, self._now_s - known.since_s)
            return
        silent_s = self._now_s - max(known.heard_s, known.since_s)
        if silent_s - known.unasked_s >= (UNECHOED_GONE_S if known.echo_s is None else GONE_S):
            words = f"{address} answers no more, neither polls nor echoes: look at its supply and its cable"
            yield Finding(EventKind.CONTROLLER_GONE, known.name, words, ago_s=silent_s)
        elif known.poll_s is not None and self._is_deaf(known.poll_s, known):
            words = f"{address} answers an echo, but no ArtPoll any more: it may hang"
            yield Finding(EventKind.NOTE, known.name, words, Severity.FAILURE)

    def _is_deaf(self, poll_s: float, known: _Known) -> bool:
        """Say whether its network still works, and its Art-Net does not."""
        is_echoing = known.echo_s is not None and self._now_s - known.echo_s < ECHO_FRESH_S
        return is_echoing and self._now_s - max(poll_s, known.since_s) - known.unpolled_s >= HANGS_S


def _never(address: str, known: _Known, since_s: float) -> Finding:
    if known.is_artnet:
        words = f"{address} has answered neither ArtPoll nor an echo"
        return Finding(EventKind.CONTROLLER_GONE, known.name, words, ago_s=since_s)
    words = f"{address} has answered no echo: it is not there, or never answers one"
    return Finding(EventKind.CONTROLLER_GONE, known.name, words, Severity.REMARK, ago_s=since_s)


def _echoed(told: ControllerSample, answer: Answer) -> ControllerSample:
    after_ms = None if answer.after_s is None else answer.after_s * MS_PER_S
    longest = max((each for each in (told.round_trip_ms, after_ms) if each is not None), default=None)
    return replace(told, echoes_answered=told.echoes_answered + 1, round_trip_ms=longest)
