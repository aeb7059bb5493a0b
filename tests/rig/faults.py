"""What may happen to the network of a night run, and how it is mended. Each may happen again and again."""

import time
from collections.abc import Iterator
from contextlib import contextmanager

from tests.rig.night_rig import NightRig


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


def have(rig: NightRig, fault, seconds: float) -> tuple[float, float]:  # noqa: ANN001  one of these
    """Let it last, and return when it began and when it was over, by the clock on the wall."""
    began_s = time.time()
    with fault(rig):
        time.sleep(seconds)
    return began_s, time.time()
