"""Whether a cable leads anywhere, asked for once a second at most."""

from pathlib import Path

import pytest

from streamer.net.carrier import CarrierWatch
from streamer.net.interfaces import Interface, Machine

JETTY = Interface("jetty0", 2, (), is_up=True, has_carrier=True, is_loopback=False, is_wireless=False,
                  can_multicast=True)  # fmt: skip


class Cable:
    """A clock, and the file in which Linux tells of a carrier."""

    def __init__(self, folder: Path) -> None:
        self.now_s = 0.0
        self._file = folder / JETTY.name / "carrier"
        self._file.parent.mkdir()
        self.machine = Machine(sys_class_net=folder)
        self.put("1")

    def put(self, told: str) -> None:
        """Write what the system tells from now on."""
        self._file.write_text(f"{told}\n")

    def clock(self) -> float:
        """Return the time."""
        return self.now_s


@pytest.fixture(name="cable")
def _cable(tmp_path: Path) -> Cable:
    return Cable(tmp_path)


def test_a_pulled_cable_is_seen_within_a_second(cable: Cable):
    """Not sooner: a sender asks at every frame."""
    watch = CarrierWatch(JETTY, cable.clock, cable.machine)
    assert watch.has_carrier is True
    cable.put("0")
    cable.now_s = 0.9
    assert watch.has_carrier is True
    cable.now_s = 1.0
    assert watch.has_carrier is False


def test_each_loss_is_counted_once(cable: Cable):
    """Out, in and out again are two."""
    watch, losses = CarrierWatch(JETTY, cable.clock, cable.machine), []
    for told in "1001100":
        cable.put(told)
        losses.append(watch.look())
        cable.now_s += 1.0
    assert losses == [0, 1, 1, 1, 1, 2, 2]


def test_without_an_interface_or_on_loopback_nothing_is_known(cable: Cable):
    """Routes decide, or there is no cable."""
    lo = Interface("lo", 1, (), is_up=True, has_carrier=None, is_loopback=True, is_wireless=False,
                   can_multicast=True)  # fmt: skip
    for interface in (None, lo):
        assert CarrierWatch(interface, cable.clock, cable.machine).has_carrier is None
