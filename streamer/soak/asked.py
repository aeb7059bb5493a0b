"""What a night run was asked, checked; and what follows: the facts of the run, and what is watched."""

import socket
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

from streamer.display.addresses import controller_text
from streamer.display.model import Display
from streamer.display.numbering import universe_text
from streamer.display.patch import Stream as Sent
from streamer.engine.messages import Setup, Show
from streamer.hear.where import destinations_of, leaves_by
from streamer.power.margins import supply_limit_a
from streamer.soak.clocks import Clocks
from streamer.soak.findings import Watch
from streamer.soak.journal import fingerprint
from streamer.soak.night import SAMPLE_S
from streamer.soak.probes import EchoProbe, PollProbe
from streamer.soak.programme import Look, Programme, Standing
from streamer.soak.records import ControllerFacts, RunFacts
from streamer.soak.watches.controllers import ControllerWatch
from streamer.soak.watches.currents import CurrentWatch, newest_nodes
from streamer.soak.watches.host import HostWatch
from streamer.soak.watches.link import LinkWatch
from streamer.soak.watches.others import OthersWatch
from streamer.soak.watches.stream import Stream

SECONDS_PER_MINUTE = 60


@dataclass(frozen=True, slots=True)
class Asked:
    """What was asked, checked."""

    file: Path
    display: Display
    programme: Programme
    asked_s: float | None
    """None: only to go on with what was broken off."""
    is_by_the_wall: bool
    """Whether it is to end at a time of day."""
    level_percent: float
    rate_hz: float
    interface: str | None
    every_frame: bool
    to: str = ""
    """Where all is sent; empty: each controller has its own address."""
    flashes_per_s: int | None = None

    @property
    def setup(self) -> Setup:
        """As the engine takes it."""
        return Setup(
            display=self.display,
            interface=self.interface,
            every_frame=self.every_frame,
            flashes_per_s=self.flashes_per_s,
        )


def facts_of(asked: Asked, sent: Sequence[Sent], clocks: Clocks) -> RunFacts:
    """Return what the run is; NetworkError for an interface that is not there."""
    names = leaves_by(asked.interface, sent)
    offset = clocks.local().utcoffset()
    return RunFacts(
        display_file=str(asked.file.resolve()),
        display=asked.display.name,
        fingerprint=fingerprint(asked.file),
        programme=asked.programme.words,
        asked_s=asked.asked_s or 0.0,
        version=version("ropewalk"),
        host=socket.gethostname(),
        interface=asked.interface or ", ".join(names),
        universes=tuple(dict.fromkeys(universe_text(each.key.protocol, each.key.universe) for each in sent)),
        controllers=tuple(_controllers(asked.display, sent)),
        rate_hz=asked.rate_hz,
        level_percent=asked.level_percent,
        supplies=tuple(supply.name for supply in asked.display.supplies),
        supply_limits_a={supply.name: supply_limit_a(supply) for supply in asked.display.supplies},
        steps=asked.programme.steps,
        utc_offset_minutes=int(offset.total_seconds()) // SECONDS_PER_MINUTE if offset else 0,
        sample_s=SAMPLE_S,
        to=asked.to,
        pinned_to=asked.interface or "",
        flashes_per_s=asked.flashes_per_s,
        every_frame=asked.every_frame,
        is_by_the_wall=asked.is_by_the_wall,
    )


def show_of(facts: RunFacts) -> Callable[[Standing], Show]:
    """Return what makes a show of where the programme stands; asked ten times a second, it keeps the last."""
    made: list[tuple[Look, Show]] = []

    def show(standing: Standing) -> Show:
        if not made or made[0][0] is not standing.look:
            made[:] = [(standing.look, standing.look.show(facts.level_percent, facts.rate_hz))]
        return made[0][1]

    return show


def watches_of(asked: Asked, sent: Sequence[Sent], stream: Stream) -> tuple[Watch, ...]:
    """Return all that watches such a run, besides the stream itself."""
    destinations = destinations_of(sent)
    names = leaves_by(asked.interface, sent)
    whose = {each.address: controller_text(each) for each in asked.display.controllers}
    told = {address: whose.get(address, "") for address in destinations}
    link = LinkWatch(names, told, is_pinned=asked.interface is not None)
    others = OthersWatch(
        sent,
        asked.interface,
        lambda: stream.cid,
        lambda: link.times_made,
    )
    controllers = ControllerWatch(
        asked.display.controllers,
        lambda addresses: PollProbe(addresses, asked.interface),
        lambda addresses: EchoProbe(addresses, asked.interface),
        is_link_up=lambda: not link.findings(),
        times_made=lambda: link.times_made,
    )
    currents = CurrentWatch(asked.display, newest_nodes(lambda: stream.frame_path))
    return link, controllers, others, currents, HostWatch()


def _controllers(display: Display, sent: Sequence[Sent]) -> Iterator[ControllerFacts]:
    universes: dict[str, set[int]] = {}
    for each in sent:
        universes.setdefault(each.controller.name, set()).add(each.key.universe)
    for controller in display.controllers:
        count = len(universes.get(controller.name, ()))
        yield ControllerFacts(controller.name, controller.address, controller.protocol.value, count)
