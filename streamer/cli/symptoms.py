"""The doctor's eyes: sees the facts of this machine and its network when they are asked for."""

import time
from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import ExitStack

from streamer.cli.asking_hosts import Round
from streamer.cli.own_multicast import OwnMulticast
from streamer.closing import Closes
from streamer.display.model import Controller, Protocol
from streamer.display.numbering import universe_text
from streamer.doctor.facts import Answered, GroupsSeen, OthersSeen, PortSeen, Refusal, Returned, RunSeen, Way
from streamer.engine.client import running_engines
from streamer.engine.messages import State
from streamer.engine.rivals import streams_of, told_by
from streamer.errors import LinkError, NetworkError
from streamer.hear.conflicts import Conflict, Ours, conflicts
from streamer.hear.ears import PORTS, Ears
from streamer.hear.table import Table
from streamer.net.interfaces import Interface, list_interfaces
from streamer.net.routes import route_towards
from streamer.net.who import holder_of_udp_port, is_held_by_ipv4, processes_on_udp_port
from streamer.yard.client import yard_processes

LISTEN_S = 3.0
"""ANSI E1.31-2018 clause 6.6.2: a picture that stands still comes every 0.8 to 1 s; Art-Net 4 alike."""


class Symptoms(Closes):
    """Implements `streamer.doctor.facts.Eyes`. Use it in `with`: it listens while it lives.

    `own_cid` is that of the run whose screen asks: it is no other run. What takes seconds ends at once when
    `is_over` says so.
    """

    def __init__(
        self, listen_s: float = LISTEN_S, own_cid: str = "", is_over: Callable[[], bool] = lambda: False
    ) -> None:
        self._listen_s = listen_s
        self._own_cid = own_cid
        self._is_over = is_over
        self._stack = ExitStack()
        self._ears: dict[Protocol, Ears] = {}
        self._began_s = time.monotonic()

    def interfaces(self) -> tuple[Interface, ...]:
        """See Eyes."""
        return list_interfaces()

    def way(self, address: str, interface: Interface | None) -> Way:
        """See Eyes."""
        route = route_towards(address, interface)
        return Way(route.interface, route.own, route.refused)

    def port(self, spoken: Protocol, interface: Interface | None) -> PortSeen:
        """See Eyes."""
        port = PORTS[spoken]
        holder = holder_of_udp_port(port) or ""
        is_taken = bool(holder) and is_held_by_ipv4(port)
        is_our_yard = bool(holder) and processes_on_udp_port(port) <= yard_processes()
        ears = Ears(Table({}, time.monotonic()), interface)
        try:
            ears.open(self._stack, [spoken])
        except NetworkError as error:
            # It joins a group as well, and where that is refused the port may be had all the same.
            if spoken not in ears.listeners:
                return PortSeen(port, holder, is_taken, Refusal(error.what, error.instead))
        self._ears[spoken] = ears
        return PortSeen(port, holder, is_taken, is_our_yard=is_our_yard)

    def join(self, universes: Sequence[int]) -> GroupsSeen:
        """See Eyes."""
        ears = self._ears[Protocol.E131]
        ears.table.ask(Protocol.E131, universes)
        try:
            ears.join(time.monotonic())
        except NetworkError as error:
            return GroupsSeen(len(universes), Refusal(f"{error.where}: {error.what}", error.instead))
        return GroupsSeen(len(universes))

    def own_multicast(self, groups: Sequence[str], interface: Interface | None) -> Returned:
        """See Eyes."""
        return OwnMulticast(groups, interface, self._is_over).seen()

    def ask(
        self, controllers: Sequence[Controller], interface: Interface | None, *, may_poll: bool
    ) -> Mapping[str, Answered]:
        """See Eyes."""
        return Round(controllers, interface, self._is_over, may_poll=may_poll).answers()

    def others(self, priorities: Mapping[tuple[Protocol, int], int]) -> OthersSeen:
        """See Eyes."""
        protocols = frozenset(protocol for protocol, _ in priorities)
        began_s = time.monotonic()
        while time.monotonic() - began_s < self._listen_s and not self._is_over():
            for protocol in protocols:
                self._ears[protocol].wait()
                self._ears[protocol].poll()
        cids, has_run = self._own_sources()
        # Art-Net has no CIDs: while a run of ours plays, what leaves this machine is taken for it.
        addresses = frozenset(
            each.address for one in (list_interfaces() if has_run else ()) for each in one.addresses
        )
        now = time.monotonic()
        found: list[Conflict] = []
        for protocol in sorted(protocols):
            table = self._ears[protocol].table
            table.close_window(now)
            found += conflicts(Ours("", addresses, priorities), table.heard([], now))
        foreign = tuple(each for each in found if not each.source.cid or each.source.cid not in cids)
        return OthersSeen(foreign, now - began_s, protocols)

    def runs(self, universes: Collection[tuple[Protocol, int]]) -> tuple[RunSeen, ...]:
        """See Eyes."""
        seen = []
        for name in running_engines():
            try:
                run = self._run(name, universes)
            except LinkError:
                continue  # it has ended meanwhile
            seen += [run] if run else []
        return tuple(seen)

    def close(self) -> None:
        """Free the ports."""
        self._stack.close()

    @staticmethod
    def _own_sources() -> tuple[frozenset[str], bool]:
        """Return the CIDs of this user's runs, the screen's own too, and whether any plays."""
        cids, has_run = set(), False
        for name in running_engines():
            try:
                plan, status = told_by(name)
            except LinkError:
                continue
            has_run |= status.state is not State.IDLE
            cids |= {plan.cid} if plan else set()
        return frozenset(cids), has_run

    def _run(self, name: str, universes: Collection[tuple[Protocol, int]]) -> RunSeen | None:
        plan, status = told_by(name)
        if plan is None or status.show is None or plan.cid == self._own_cid:
            return None
        keys = [each.key for each in streams_of(plan.setup.display, status.show.pattern)]
        both = sorted({(each.protocol, each.universe) for each in keys} & set(universes))
        if not both:
            return None
        told = tuple(universe_text(protocol, universe) for protocol, universe in both)
        return RunSeen(name, told, status.show.pattern, status.complaints)
