"""What is wrong with the ways out of a run: told while it is so, and gone when it is over."""

import errno
from pathlib import Path

import pytest

from streamer.engine.complaints import OVER_S, Complaints
from streamer.engine.outlet import Outlet
from streamer.net.carrier import CarrierWatch
from streamer.net.complaints import error_sentence
from streamer.net.interfaces import Interface, Machine
from streamer.net.sender import RecordingSender

JETTY, SLIPWAY = ("10.61.0.2", 5568), ("10.61.0.3", 5568)
SILENT = error_sentence("EHOSTUNREACH", JETTY)


class Lawn:
    """Two senders and a cable, under a fake clock."""

    def __init__(self, folder: Path) -> None:
        self.now_s = 100.0
        self.data, self.discovery = RecordingSender(), RecordingSender()
        self._carrier = folder / "shed0" / "carrier"
        self._carrier.parent.mkdir()
        self.cable("1")
        shed = Interface("shed0", 2, (), is_up=True, has_carrier=True, is_loopback=False, is_wireless=False,
                         can_multicast=True)  # fmt: skip
        watch = CarrierWatch(shed, lambda: self.now_s, Machine(sys_class_net=folder))
        self.complaints = Complaints(Outlet(self.data, (self.discovery,), "", carriers=(watch,)))

    def cable(self, told: str | None) -> None:
        """Let the system tell this of the carrier; None while the interface is away."""
        self._carrier.unlink(missing_ok=True)
        if told is not None:
            self._carrier.write_text(told)

    def after(self, seconds: float, *addresses: tuple[str, int]) -> tuple[str, ...]:
        """Let time pass, send to these, and return what is wrong then."""
        self.now_s += seconds
        for address in addresses:
            self.data.send_one(b"levels", address)
        self.complaints.look(self.now_s)
        return self.complaints.now


@pytest.fixture(name="lawn")
def _lawn(tmp_path: Path) -> Lawn:
    return Lawn(tmp_path)


def test_a_silent_controller_is_told_until_it_answers(lawn: Lawn):
    """Each keep-alive fails, though the other controller is well; five seconds after the last it is over."""
    assert lawn.after(0, JETTY, SLIPWAY) == ()
    lawn.data.failures[JETTY] = errno.EHOSTUNREACH
    for _ in range(20):
        assert lawn.after(0.9, JETTY, SLIPWAY) == (SILENT,)
    lawn.data.failures.clear()
    assert lawn.after(0.9, JETTY, SLIPWAY) == (SILENT,)
    assert lawn.after(OVER_S, JETTY, SLIPWAY) == ()
    assert lawn.complaints.ever == (SILENT,)


def test_what_has_not_gone_since_is_not_over(lawn: Lawn):
    """Discovery goes once in ten seconds: silence in between proves nothing."""
    lawn.discovery.failures[SLIPWAY] = errno.ENETUNREACH
    lawn.discovery.send_one(b"list", SLIPWAY)
    wrong = (error_sentence("ENETUNREACH", SLIPWAY),)
    for _ in range(9):
        assert lawn.after(1, JETTY) == wrong
    lawn.discovery.failures.clear()
    lawn.discovery.send_one(b"list", SLIPWAY)
    assert lawn.after(1, JETTY) == ()


def test_a_pulled_cable_comes_first_and_is_over_when_it_is_in_again(lawn: Lawn):
    """Linux: /sys/class/net/*/carrier; asked once a second."""
    assert lawn.after(1, JETTY) == ()
    lawn.data.failures[JETTY] = errno.EHOSTUNREACH
    lawn.cable("0")
    first, second = lawn.after(1, JETTY)
    assert first == "shed0: its cable leads nowhere. Plug it in, or switch on the far end"
    assert second == SILENT
    was_lost = lawn.complaints.is_carrier_lost
    lawn.cable("1")
    assert lawn.after(1) == (SILENT,)
    assert (was_lost, lawn.complaints.is_carrier_lost) == (True, False)
    assert lawn.complaints.was_carrier_lost
    assert lawn.complaints.ever == (first, SILENT)


def test_an_interface_that_goes_away_is_told(lawn: Lawn):
    """A USB adapter pulled out: then nothing can be read of it."""
    lawn.after(1)
    lawn.cable(None)
    (gone,) = lawn.after(1)
    assert gone == "shed0: it is gone or switched off. Plug the adapter in, or switch it on"


def test_a_run_looks_five_times_a_second(lawn: Lawn):
    """As often as it is told."""
    lawn.complaints.tick(lawn.now_s)
    lawn.data.failures[JETTY] = errno.EHOSTUNREACH
    lawn.data.send_one(b"levels", JETTY)
    lawn.complaints.tick(lawn.now_s + 0.19)
    early = lawn.complaints.now
    lawn.complaints.tick(lawn.now_s + 0.2)
    assert (early, lawn.complaints.now) == ((), (SILENT,))
