"""Where what we send leaves this machine: what others send to the same controllers is to be heard there."""

from collections.abc import Iterable

from streamer.display.model import GROUPS, MULTICAST, MULTICAST_IPV6
from streamer.display.patch import Stream
from streamer.net.interfaces import find_interface, interfaces_towards
from streamer.wire.e131 import multicast_group, multicast_group_v6


def destinations_of(streams: Iterable[Stream]) -> tuple[str, ...]:
    """Return the numeric address of every destination; of groups each one."""
    return tuple(dict.fromkeys(map(_destination, streams)))


def leaves_by(chosen: str | None, streams: Iterable[Stream]) -> tuple[str, ...]:
    """Return the names of the interfaces that packets leave by; none where there is no way just now.

    NetworkError for a chosen one that is not there.
    """
    if chosen:
        return (find_interface(chosen).name,)
    # One group of an IP version goes where all of them go, and there may be thousands.
    apart = {each.key.address if each.key.address in GROUPS else _destination(each): each for each in streams}
    return tuple(each.name for each in interfaces_towards(map(_destination, apart.values())))


def _destination(stream: Stream) -> str:
    key = stream.key
    if key.address == MULTICAST:
        return multicast_group(key.universe)
    return multicast_group_v6(key.universe) if key.address == MULTICAST_IPV6 else key.address
