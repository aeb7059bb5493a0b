"""Goes along the chain, from the interfaces to the controllers, and judges each link as it comes.

What rests on a broken link is not looked at, and says which one; what does not rest on it still is.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from streamer.display.model import GROUPS, MULTICAST, MULTICAST_IPV6, Controller, Display, Protocol
from streamer.display.patch import compile_patch
from streamer.doctor.answers import judge_answer
from streamer.doctor.checks import Check, Link, State, first_that_breaks
from streamer.doctor.facts import Answered, Eyes, Way
from streamer.doctor.hearing import judge_groups, judge_own_multicast, judge_port
from streamer.doctor.interfaces import judge_air, judge_any, judge_interface, missing
from streamer.doctor.others import judge_others, judge_runs
from streamer.doctor.places import holders
from streamer.doctor.ways import judge_groups_way, judge_way, multicast_text, subject_of
from streamer.net.destinations import is_loopback
from streamer.net.interfaces import Interface
from streamer.wire import e131

GROUP_OF = {MULTICAST: e131.multicast_group, MULTICAST_IPV6: e131.multicast_group_v6}


def examine(display: Display, asked_for: str | None, eyes: Eyes) -> Iterator[Check]:
    """Yield the checks of a display that has passed its own, as they are made.

    `asked_for` is the interface to send by, its name or an address of its; None leaves it to the system.
    """
    yield from _Round(display, asked_for, eyes).checks()


@dataclass(slots=True)
class _Round:
    display: Display
    asked_for: str | None
    eyes: Eyes
    interfaces: tuple[Interface, ...] = ()
    chosen: Interface | None = None
    ways: dict[str, Way] = field(default_factory=dict)
    """By the address as it stands in the file."""
    of_interface: dict[str, Check] = field(default_factory=dict)
    of_address: dict[str, Check] = field(default_factory=dict)
    of_port: dict[Protocol, Check] = field(default_factory=dict)
    universes: dict[Protocol, tuple[int, ...]] = field(default_factory=dict)
    priorities: dict[tuple[Protocol, int], int] = field(default_factory=dict)

    def checks(self) -> Iterator[Check]:
        self._read_display()
        self.interfaces = self.eyes.interfaces()
        yield from self._interfaces()
        yield from self._ways()
        yield from self._ports()
        groups = self._groups()
        yield from groups
        yield from self._own_multicast(groups)
        yield from self._answers()
        yield from self._others()
        yield from judge_runs(self.eyes.runs(frozenset(self.priorities)))
        yield from self._air()

    def _read_display(self) -> None:
        for stream in compile_patch(self.display).streams:
            key = stream.key.protocol, stream.key.universe
            self.priorities[key] = stream.controller.priority
        for protocol in Protocol:
            found = sorted(universe for each, universe in self.priorities if each is protocol)
            if found:
                self.universes[protocol] = tuple(found)

    @property
    def _addresses(self) -> list[str]:
        return list(dict.fromkeys(each.address for each in self.display.controllers))

    @property
    def _groups_addresses(self) -> list[str]:
        return [each for each in self._addresses if each in GROUPS]

    @property
    def _own_addresses(self) -> list[str]:
        return [each for each in self._addresses if each not in GROUPS and not is_loopback(each)]

    def _interfaces(self) -> Iterator[Check]:
        name = self.asked_for
        if name is not None:
            self.chosen = next((each for each in self.interfaces if _is_called(each, name)), None)
            if self.chosen is None:
                self.of_interface[name] = missing(name, self.interfaces)
                yield self.of_interface[name]
                return
        for address in self._addresses:
            target = GROUP_OF[address](self._a_universe) if address in GROUPS else address
            self.ways[address] = self.eyes.way(target, self.chosen)
        meant = {name for address in self._addresses if (name := self._meant(address))}
        for each in self.interfaces:
            if each.name in meant:
                self.of_interface[each.name] = judge_interface(each, self._own_addresses)
                yield self.of_interface[each.name]
        if not self.of_interface:
            self.of_interface[""] = judge_any(self.interfaces, self._own_addresses)
            yield self.of_interface[""]

    @property
    def _a_universe(self) -> int:
        """One of the universes, to ask for routes with: those of all groups are the same."""
        return self.universes.get(Protocol.E131, (e131.UNIVERSE_MIN,))[0]

    def _meant(self, address: str) -> str:
        """Return the interface that an address is meant to be reached by; "" where none is known."""
        if self.chosen:
            return self.chosen.name
        way = self.ways[address]
        if address in GROUPS:
            return way.interface
        found = [each.name for each in holders(self.interfaces, address)]
        return way.interface if way.interface in found or not found else found[0]

    def _needed(self, address: str) -> Check | None:
        """Return what is broken of what the way to an address rests on."""
        if self.asked_for is not None and self.chosen is None:
            return first_that_breaks(list(self.of_interface.values()))
        by = self._meant(address)
        needed = self.of_interface.get(by) or self.of_interface.get("")
        return first_that_breaks([needed] if needed and not is_loopback(address) else [])

    def _ways(self) -> Iterator[Check]:
        for controller in self.display.controllers:
            address = controller.address
            if address in GROUPS:
                continue
            broken = self._needed(address)
            check = (
                _rests(Link.WAY, subject_of(controller), broken)
                if broken
                else judge_way(controller, self.ways[address], self.interfaces, self.chosen)
            )
            self.of_address[address] = check
            yield check
        for address in self._groups_addresses:
            broken = self._needed(address)
            group = GROUP_OF[address](self._a_universe)
            check = (
                _rests(Link.GROUPS_WAY, multicast_text(group), broken)
                if broken
                else judge_groups_way(group, self.ways[address], self.interfaces, self.chosen)
            )
            self.of_address[address] = check
            yield check

    @property
    def _listens_on(self) -> Interface | None:
        """The interface asked for, or the only one that leads to controllers with addresses of their own.

        Multicast leaves by the system's choice, and is heard by it. One that is down hears nothing, and all
        are heard instead.
        """
        if self.chosen or MULTICAST in self._addresses:
            return self.chosen if self.chosen and self.chosen.is_up else None
        meant = [each for each in self.interfaces if each.name in self.of_interface and each.is_up]
        return meant[0] if len(meant) == 1 else None

    def _ports(self) -> Iterator[Check]:
        for protocol in self.universes:
            self.of_port[protocol] = judge_port(protocol, self.eyes.port(protocol, self._listens_on))
            yield self.of_port[protocol]

    def _groups(self) -> list[Check]:
        if Protocol.E131 not in self.universes:
            return []
        # The groups of IPv6 are joined too where that can be; only those of IPv4 can fail us.
        ways = [self.of_address[MULTICAST]] if MULTICAST in self._addresses else []
        broken = first_that_breaks([*self.of_interface.values(), *ways, self.of_port[Protocol.E131]])
        if broken:
            return [_rests(Link.GROUPS, "of our universes", broken)]
        seen = self.eyes.join(self.universes[Protocol.E131])
        return [judge_groups(seen, is_needed=bool(ways))]

    def _own_multicast(self, groups: Sequence[Check]) -> Iterator[Check]:
        addresses = self._groups_addresses
        if not addresses:
            return
        broken = first_that_breaks([*(self.of_address[each] for each in addresses), *groups])
        if broken:
            yield _rests(Link.OWN_MULTICAST, "heard back", broken)
            return
        universes = {address: self._universes_to(address) for address in addresses}
        sent = [GROUP_OF[address](each) for address, numbers in universes.items() for each in numbers]
        yield judge_own_multicast(self.eyes.own_multicast(sent, self.chosen))

    def _universes_to(self, address: str) -> list[int]:
        streams = compile_patch(self.display).streams
        return sorted({each.key.universe for each in streams if each.key.address == address})

    def _answers(self) -> Iterator[Check]:
        able = [each for each in self.display.controllers if self._can_be_asked(each)]
        port = self.of_port.get(Protocol.ARTNET)
        may_poll = port is not None and port.state is not State.BROKEN
        answered = self.eyes.ask(able, self.chosen, may_poll=may_poll) if able else {}
        for controller in self.display.controllers:
            yield self._answer(controller, answered)

    def _can_be_asked(self, controller: Controller) -> bool:
        way = self.of_address[controller.address]
        return controller.address not in GROUPS and not first_that_breaks([way])

    def _answer(self, controller: Controller, answered: Mapping[str, Answered]) -> Check:
        way = self.of_address[controller.address]
        broken = None if controller.address in GROUPS else first_that_breaks([way])
        if broken:
            return _rests(Link.ANSWER, subject_of(controller), broken)
        return judge_answer(controller, answered.get(controller.address, Answered()), way)

    def _others(self) -> Iterator[Check]:
        interfaces, ports = list(self.of_interface.values()), list(self.of_port.values())
        heard = {each for each, check in self.of_port.items() if not first_that_breaks([check])}
        # One that is well is enough to hear by.
        is_deaf = not heard or all(first_that_breaks([each]) for each in interfaces)
        broken = first_that_breaks([*interfaces, *ports])
        if broken and is_deaf:
            yield _rests(Link.OTHERS, "on our universes", broken)
            return
        priorities = {key: value for key, value in self.priorities.items() if key[0] in heard}
        yield from judge_others(self.eyes.others(priorities))

    def _air(self) -> Iterator[Check]:
        has_groups = bool(self._groups_addresses)
        for each in self.interfaces:
            if each.name in self.of_interface and not each.is_loopback:
                yield judge_air(each, has_groups=has_groups)


def _is_called(interface: Interface, name: str) -> bool:
    own = (*(each.address for each in interface.addresses), *interface.ipv6_addresses)
    return name == interface.name or name in own


def _rests(link: Link, subject: str, broken: Check) -> Check:
    """Return a check that was not made because of another one."""
    # A chain of those is told by its beginning.
    what = (
        broken.saw
        if broken.state is State.NOT_LOOKED_AT
        else f"it rests on the {broken.link}: {broken.subject}"
    )
    return Check(link, subject, State.NOT_LOOKED_AT, "nothing", what, "Mend that first")
