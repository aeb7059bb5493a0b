"""Which packets leave this machine: only then do real lights change, and only then is that cautioned of."""

from collections.abc import Iterable

from streamer.display.model import GROUPS
from streamer.engine.messages import Setup
from streamer.net.destinations import is_loopback
from streamer.net.interfaces import find_interface


def beyond(addresses: Iterable[str], interface: str | None) -> tuple[str, ...]:
    """Return the addresses that are not on this machine; groups are, where only loopback carries them.

    NetworkError when there is no such interface.
    """
    stays_here = bool(interface and find_interface(interface).is_loopback)

    def is_here(address: str) -> bool:
        return is_loopback(address) or (address in GROUPS and stays_here)

    return tuple(each for each in dict.fromkeys(addresses) if not is_here(each))


def are_real(setup: Setup) -> bool:
    """Return whether a run on this setup changes lights that are not on this machine."""
    return bool(beyond((each.address for each in setup.display.controllers), setup.interface))
