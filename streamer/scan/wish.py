"""What to scan."""

from dataclasses import dataclass
from ipaddress import AddressValueError, IPv4Address

from streamer.display.model import Display
from streamer.errors import NetworkError
from streamer.net.destinations import LIMITED_BROADCAST, is_loopback
from streamer.net.interfaces import Interface, list_interfaces

SECONDS = 12.0
"""A little over the 10 s after which universe discovery repeats itself (ANSI E1.31-2018 clause 4.3)."""


@dataclass(frozen=True, slots=True)
class Wish:
    """Where to ask, and whom by name."""

    interface: Interface | None = None
    """None asks by all that are up, this machine's own loopback included."""
    addresses: tuple[str, ...] = ()
    """Single devices to poll as well, IPv4."""

    def broadcasts(self) -> tuple[str, ...]:
        """Return the directed broadcast addresses to poll. NetworkError when there is nowhere to ask."""
        chosen = [self.interface] if self.interface else [each for each in list_interfaces() if each.is_up]
        found = tuple(
            each.broadcast
            for interface in chosen
            for each in interface.addresses
            if each.broadcast is not None
        )
        if not found and not self.singles():
            where = f"interface {self.interface.name!r}" if self.interface else "this machine"
            what = "it has no network with a broadcast address, so nobody can be asked"
            raise NetworkError(what, where, "Give it an address, or choose another: ropewalk interfaces")
        return found

    def singles(self) -> tuple[str, ...]:
        """Return the single addresses that are to be asked by this interface."""
        if self.interface is None or self.interface.is_loopback:
            return self.addresses
        return tuple(each for each in self.addresses if not is_loopback(each))


def addresses_of(display: Display) -> tuple[str, ...]:
    """Return the IPv4 addresses of a display's controllers, which may be asked one by one.

    Those that speak E1.31 as well: many a device speaks both and answers polls.
    """
    addresses = dict.fromkeys(controller.address for controller in display.controllers)
    return tuple(each for each in addresses if _is_single(each))


def _is_single(address: str) -> bool:
    try:
        number = IPv4Address(address)
    except AddressValueError:
        return False
    return not number.is_multicast and address != LIMITED_BROADCAST
