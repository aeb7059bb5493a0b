"""The interfaces that packets leave by: there, switched on, plugged in, with an address, with a way."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from streamer.net.interfaces import Interface, has_route, list_interfaces
from streamer.soak.findings import Finding, Quiet
from streamer.soak.records import EventKind, Sample, Severity

LOOK_EACH_S = 0.5
ROUTES_MOST = 32
"""Destinations whose way is looked up; a network of more has them on the same few ways."""
GONE = "it is not there any more; sending goes on by itself when one of that name is back"
OFF = "it is switched off"
CABLE_OUT = "its cable leads nowhere (no carrier): packets are taken and lost"
NETWORK_LEFT = "it is in no wireless network: packets are taken and lost"

ListInterfaces = Callable[[], Sequence[Interface]]
HasRoute = Callable[[str], bool]


@dataclass(slots=True)
class _Known:
    """What is remembered of an interface while it is away."""

    index: int
    addresses: str


class LinkWatch(Quiet):
    """Watches interfaces by their names, and whether there is a way to each destination."""

    name = "the network interface"

    def __init__(
        self,
        names: Sequence[str],
        destinations: Mapping[str, str],
        *,
        is_pinned: bool,
        list_all: ListInterfaces = list_interfaces,
        has_way: HasRoute = has_route,
    ) -> None:
        """Watch these; of each destination it says in words whom it is for, "" where that is not one alone.

        Where the run is pinned to an interface, a route that is gone need not matter.
        """
        self._names = tuple(names)
        self._destinations = dict(islice(destinations.items(), ROUTES_MOST))
        self._is_pinned = is_pinned
        self._list, self._has_way = list_all, has_way
        self._looked_s = float("-inf")
        self._seen: Mapping[str, Interface] = {}
        self._known: dict[str, _Known] = {}
        self._news: list[Finding] = []
        self._findings: tuple[Finding, ...] = ()
        self.times_made = 0
        """How often one of the interfaces was made anew: memberships of groups are gone with the old one."""

    def look(self, now_s: float) -> None:
        """Look at every interface and route twice a second."""
        if now_s - self._looked_s < LOOK_EACH_S:
            return
        self._looked_s = now_s
        self._seen = {each.name: each for each in self._list()}
        found = tuple(self._of_interfaces())
        self._findings = found or tuple(self._of_routes())

    def findings(self) -> Sequence[Finding]:
        """Return what is wrong just now."""
        return self._findings

    def news(self) -> Iterable[Finding]:
        """Return what has happened since this was asked last."""
        news, self._news = self._news, []
        return news

    def add_to(self, sample: Sample) -> Sample:
        """Return the sample with carrier and address of the first interface."""
        interface = self._seen.get(self._names[0]) if self._names else None
        if interface is None:
            return replace(sample, has_carrier=False if self._known else None)
        return replace(sample, has_carrier=interface.has_carrier, address=_addresses(interface))

    def _of_interfaces(self) -> Iterator[Finding]:
        for name in self._names:
            interface = self._seen.get(name)
            if interface is None:
                yield Finding(EventKind.INTERFACE_GONE, name, GONE)
                continue
            self._compare(interface)
            if not interface.is_up:
                yield Finding(EventKind.LINK_DOWN, name, OFF)
            elif interface.has_carrier is False and not interface.is_loopback:
                words = NETWORK_LEFT if interface.is_wireless else CABLE_OUT
                yield Finding(EventKind.LINK_DOWN, name, words)
            elif not _addresses(interface) and self._known[name].addresses:
                words = f"it has lost its address {self._known[name].addresses}"
                yield Finding(EventKind.ADDRESS_CHANGED, name, words)

    def _compare(self, interface: Interface) -> None:
        addresses = _addresses(interface)
        known = self._known.setdefault(interface.name, _Known(interface.index, addresses))
        if known.index != interface.index:
            self.times_made += 1
            words = "it was made anew: the same name, another interface to the system"
            self._news.append(Finding(EventKind.NOTE, interface.name, words, Severity.NOTICE))
        if addresses and known.addresses and addresses != known.addresses:
            words = f"{known.addresses} is now {addresses}"
            self._news.append(Finding(EventKind.ADDRESS_CHANGED, interface.name, words, Severity.REMARK))
        self._known[interface.name] = _Known(interface.index, addresses or known.addresses)

    def _of_routes(self) -> Iterator[Finding]:
        lost = [address for address in self._destinations if not self._has_way(address)]
        if lost:
            more = f" and {len(lost) - 1} more" if len(lost) > 1 else ""
            severity = Severity.REMARK if self._is_pinned else Severity.FAILURE
            whose = self._destinations[lost[0]]
            words = "this machine has no way there" + (f" ({whose})" if whose else "")
            yield Finding(EventKind.NO_ROUTE, lost[0] + more, words, severity)


def _addresses(interface: Interface) -> str:
    """Return its IPv4 addresses; those of IPv6 where it has no other, without the link-local ones."""
    ipv4 = [each.address for each in interface.addresses]
    return ", ".join(ipv4 or [each for each in interface.ipv6_addresses if not each.startswith("fe80:")])
