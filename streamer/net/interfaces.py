"""Which network interfaces this machine has, and which one leads to an address.

Read afresh at every call: cables are pulled and addresses change while a program runs. Tried on Linux;
elsewhere what cannot be known is None.
"""

import ipaddress
import socket
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import netifaces
import psutil

from streamer.errors import NetworkError
from streamer.net.destinations import LIMITED_BROADCAST
from streamer.net.linux import INTERFACE_INDEX, IS_LINUX
from streamer.net.zones import destination_of, socket_name, without_zone, zone_of

LONGEST_BROADCAST_PREFIX = 30
"""RFC 3021: a /31 has no broadcast address; nor has the single host of a /32."""
IPV4 = 4
DISCARD_PORT = 9
"""RFC 863. Nothing is sent to it: connecting a UDP socket only looks up the route."""


@dataclass(frozen=True, slots=True)
class Ipv4:
    """One IPv4 address of an interface; `broadcast` is None where the network has none."""

    address: str
    netmask: str
    broadcast: str | None


@dataclass(frozen=True, slots=True)
class Interface:
    """A network interface as it is now."""

    name: str
    index: int
    addresses: tuple[Ipv4, ...]
    is_up: bool
    """Switched on by the system, whether or not a cable is in."""
    has_carrier: bool | None
    """A cable with something at its other end, or a Wi-Fi association; None where not known."""
    is_loopback: bool
    is_wireless: bool | None
    can_multicast: bool
    """Loopback counts: Linux does not flag it so, but groups pinned to it do arrive."""
    ipv6_addresses: tuple[str, ...] = ()
    """Without the zone that a link-local one needs, which is this interface: RFC 4007 clause 11."""

    def __str__(self) -> str:
        return f"{self.name} ({self.addresses_text}{'' if self.is_up else ', down'})"

    @property
    def addresses_text(self) -> str:
        """Every address, those of IPv4 first."""
        own = [*(each.address for each in self.addresses), *self.ipv6_addresses]
        return ", ".join(own) or "no address"


@dataclass(frozen=True, slots=True)
class Machine:
    """Where the facts come from; tests give their own."""

    names: Callable[[], Sequence[tuple[int, str]]] = socket.if_nameindex
    addresses: Callable[[str], Mapping[int, Sequence[Mapping[str, str]]]] = netifaces.ifaddresses
    stats: Callable[[], Mapping[str, Any]] = psutil.net_if_stats
    """For each name something with `isup` and `flags`, as psutil's snicstats."""
    sys_class_net: Path | None = Path("/sys/class/net") if IS_LINUX else None


THIS_MACHINE = Machine()


def list_interfaces(machine: Machine = THIS_MACHINE) -> tuple[Interface, ...]:
    """Return every interface, loopback included, in the system's order."""
    stats = machine.stats()
    return tuple(
        _interface(machine, index, name, stats[name]) for index, name in machine.names() if name in stats
    )


def find_interface(name_or_address: str, machine: Machine = THIS_MACHINE) -> Interface:
    """Return the interface of that name, or the one that has that address.

    Raises NetworkError, listing the choices, when there is none or it is down.
    """
    interfaces = list_interfaces(machine)
    found = next((each for each in interfaces if name_or_address == each.name), None)
    found = found or _holder_of(name_or_address, interfaces)
    choices = "; ".join(str(each) for each in interfaces if each.is_up) or "none is up"
    if found is None:
        raise NetworkError("no such interface", f"interface {name_or_address!r}", f"Choose one of: {choices}")
    if not found.is_up:
        raise NetworkError(
            "it is down", f"interface {found.name!r}", f"Switch it on, or choose one of: {choices}"
        )
    return found


def interface_towards(address: str, machine: Machine = THIS_MACHINE) -> Interface | None:
    """Return the interface by which the system would send to an address, None without a route.

    Sends nothing. For one of this machine's own addresses it is the interface that has the address.
    """
    try:
        numeric = ipaddress.ip_address(address)
    except ValueError as error:
        raise NetworkError(
            "not an IPv4 address, nor one of IPv6",
            f"{address!r}",
            "Write four numbers, such as 192.168.1.50",
        ) from error
    try:
        own = _own_address_towards(numeric)
    except OSError:
        return None
    return _with_own_address(own, list_interfaces(machine))


def interfaces_towards(addresses: Iterable[str], machine: Machine = THIS_MACHINE) -> tuple[Interface, ...]:
    """Return the interfaces by which the system would send to these numeric addresses, each once.

    For an address without a route there is none.
    """
    interfaces = list_interfaces(machine)
    own = dict.fromkeys(map(own_address_towards, addresses))
    found = [_with_own_address(each, interfaces) for each in own if each is not None]
    return tuple(dict.fromkeys(each for each in found if each is not None))


def own_address_towards(address: str) -> str | None:
    """Return the address that the system would send from to a numeric address, None without a route."""
    try:
        return _own_address_towards(ipaddress.ip_address(address))
    except OSError:
        return None


def has_route(address: str) -> bool:
    """Whether the system has a way to a numeric address, of IPv4 or IPv6; sends nothing."""
    return own_address_towards(address) is not None


def _own_address_towards(address: ipaddress.IPv4Address | ipaddress.IPv6Address) -> str:
    family = socket.AF_INET if address.version == IPV4 else socket.AF_INET6
    with socket.socket(family, socket.SOCK_DGRAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, 1)
        probe.connect(socket_name((str(address), DISCARD_PORT)))
        return destination_of(probe.getsockname())[0]


def has_way_by(interface: Interface, group: str) -> bool:
    """Whether the system has a route for an IPv6 group out of that interface; sends nothing."""
    with socket.socket(socket.AF_INET6, socket.SOCK_DGRAM) as probe:
        index = INTERFACE_INDEX.pack(interface.index)
        try:
            probe.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_MULTICAST_IF, index)
            probe.connect((group, DISCARD_PORT))
        except OSError:
            return False
    return True


def broadcast_addresses(machine: Machine = THIS_MACHINE) -> frozenset[str]:
    """Return every address that means 'all hosts' from here: each network's own, and 255.255.255.255."""
    return frozenset(
        each.broadcast
        for interface in list_interfaces(machine)
        for each in interface.addresses
        if each.broadcast is not None
    ) | {LIMITED_BROADCAST}


def _with_own_address(own: str, interfaces: Sequence[Interface]) -> Interface | None:
    """Return the interface of an address of ours, which for a link-local one names it."""
    if zone := zone_of(own):
        return next((each for each in interfaces if each.name == zone), None)
    return _holder_of(own, interfaces)


def _holder_of(address: str, interfaces: Iterable[Interface]) -> Interface | None:
    return next(
        (
            each
            for each in interfaces
            if address in {own.address for own in each.addresses}.union(each.ipv6_addresses)
        ),
        None,
    )


def _interface(machine: Machine, index: int, name: str, stats: Any) -> Interface:  # noqa: ANN401  psutil's or a test's
    flags = frozenset(filter(None, stats.flags.split(",")))
    is_loopback = "loopback" in flags
    return Interface(
        name=name,
        index=index,
        addresses=_addresses(machine, name),
        # psutil's own isup means that a cable is in as well; platforms without flags have only that.
        is_up="up" in flags if flags else bool(stats.isup),
        has_carrier=carrier(name, machine),
        is_loopback=is_loopback,
        is_wireless=_wireless(machine, name),
        can_multicast=is_loopback or "multicast" in flags or not flags,
        ipv6_addresses=_ipv6_addresses(machine, name),
    )


def _addresses(machine: Machine, name: str) -> tuple[Ipv4, ...]:
    listed = _listed(machine, name, socket.AF_INET)
    return tuple(_ipv4(each) for each in listed if "addr" in each and "netmask" in each)


def _ipv6_addresses(machine: Machine, name: str) -> tuple[str, ...]:
    listed = _listed(machine, name, socket.AF_INET6)
    return tuple(without_zone(each["addr"]) for each in listed if "addr" in each)


def _listed(machine: Machine, name: str, family: int) -> Sequence[Mapping[str, str]]:
    try:
        return machine.addresses(name).get(int(family), ())
    except ValueError:  # netifaces says so when the interface vanished since it was listed
        return ()


def _ipv4(listed: Mapping[str, str]) -> Ipv4:
    """Work out the broadcast address where none is set: Linux treats the network's last as one anyway.

    Where none is set getifaddrs(3) says the address itself, and on a line to one host that host's.
    """
    network = ipaddress.IPv4Interface(f"{listed['addr']}/{listed['netmask']}").network
    if network.prefixlen > LONGEST_BROADCAST_PREFIX:
        return Ipv4(listed["addr"], listed["netmask"], None)
    told = listed.get("broadcast", listed["addr"])
    broadcast = str(network.broadcast_address) if told == listed["addr"] else told
    return Ipv4(listed["addr"], listed["netmask"], broadcast)


def carrier(name: str, machine: Machine = THIS_MACHINE) -> bool | None:
    """Return whether that interface has something at its other end; None where it cannot be known."""
    if machine.sys_class_net is None:
        return None
    try:
        return (machine.sys_class_net / name / "carrier").read_text().strip() == "1"
    except OSError:  # Linux refuses to read it while the interface is down
        return None


def _wireless(machine: Machine, name: str) -> bool | None:
    if machine.sys_class_net is None:
        return None
    return any((machine.sys_class_net / name / kind).exists() for kind in ("wireless", "phy80211"))
