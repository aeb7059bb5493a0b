"""What may happen to the network of a night run, and how it is mended. Each may happen again and again."""

import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass

from tests.rig.night_rig import NightRig

Fault = Callable[[NightRig], AbstractContextManager[None]]


@contextmanager
def interface_down(rig: NightRig) -> Iterator[None]:
    """Switch it off meanwhile."""
    near = rig.cable.near
    near.ip("link", "set", near.interface, "down")
    yield
    near.ip("link", "set", near.interface, "up")


@contextmanager
def cable_out(rig: NightRig) -> Iterator[None]:
    """Have no carrier: sends succeed, and everything is lost."""
    far = rig.cable.far
    far.ip("link", "set", far.interface, "down")
    yield
    far.ip("link", "set", far.interface, "up")


@contextmanager
def interface_made_again(rig: NightRig) -> Iterator[None]:
    """As pulling a USB adapter does: another interface of the same name."""
    rig.cable.unplug()
    yield
    rig.cable.plug()
    rig.cable.far.ip("address", "add", "10.61.0.3/24", "dev", rig.cable.far.interface)


@contextmanager
def address_changed(rig: NightRig) -> Iterator[None]:
    """Have none, and then another."""
    near = rig.cable.near
    before, after = near.address, "10.61.0.77"
    if after in near.ip("address", "show", "dev", near.interface):
        before, after = after, before
    near.ip("address", "del", f"{before}/24", "dev", near.interface)
    yield
    near.ip("address", "add", f"{after}/24", "dev", near.interface)


@contextmanager
def route_gone(rig: NightRig) -> Iterator[None]:
    """Have no way to the controllers."""
    near = rig.cable.near
    near.ip("route", "del", "10.61.0.0/24", "dev", near.interface)
    yield
    near.ip("route", "add", "10.61.0.0/24", "dev", near.interface)


@contextmanager
def queue_full(rig: NightRig) -> Iterator[None]:
    """Have a line of 8 kbit/s, with room for a packet: ENOBUFS."""
    near = rig.cable.near
    near.run(*f"tc qdisc add dev {near.interface} root tbf rate 8kbit burst 1600 limit 1600".split())
    yield
    near.run(*f"tc qdisc del dev {near.interface} root".split())


@contextmanager
def firewall_shut(rig: NightRig) -> Iterator[None]:
    """Let nothing out."""
    near = rig.cable.near
    near.run("nft", "add table inet shut; add chain inet shut out { type filter hook output priority 0; }")
    near.run("nft", "add rule inet shut out udp dport { 5568, 6454 } drop")
    yield
    near.run("nft", "delete table inet shut")


@contextmanager
def controller_gone(rig: NightRig) -> Iterator[None]:
    """Take its address away: nobody answers for it, and the system says EHOSTUNREACH after a while."""
    far = rig.cable.far
    far.ip("address", "del", "10.61.0.3/24", "dev", far.interface)
    yield
    far.ip("address", "add", "10.61.0.3/24", "dev", far.interface)


@contextmanager
def asleep(rig: NightRig) -> Iterator[None]:
    """Hold the run and its engine."""
    rig.hold()
    yield
    rig.wake()


@contextmanager
def clock_an_hour_on(rig: NightRig) -> Iterator[None]:
    """Set the clock on the wall forwards, and back."""
    rig.clock.write_text("3600")
    yield
    rig.clock.write_text("0")


@dataclass(frozen=True)
class Had:
    """When a fault began and when it was over, by the clock on the wall.

    Either takes a command or two, as long as the machine likes: it happened between two moments.
    """

    began_s: tuple[float, float]
    ended_s: tuple[float, float]

    @property
    def back_s(self) -> float:
        """When the network was back for certain."""
        return self.ended_s[1]

    @property
    def longest_s(self) -> float:
        """How long it lasted at the most."""
        return self.ended_s[1] - self.began_s[0]


def is_at(unix_s: float, between_s: tuple[float, float], within_s: float) -> bool:
    """Whether it is told for then, as nearly as that."""
    return between_s[0] - within_s <= unix_s <= between_s[1] + within_s


def have(rig: NightRig, fault: Fault, seconds: float, until: Callable[[], bool] = lambda: True) -> Had:
    """Let it last, and until it is told where that is waited for; return when that was."""
    before_s = time.time()
    with fault(rig):
        began_s = before_s, time.time()
        time.sleep(seconds)
        rig.wait_until(until)
        over_s = time.time()
    return Had(began_s, (over_s, time.time()))
