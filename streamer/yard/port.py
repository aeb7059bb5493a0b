"""One port of the yard: what it is set to, what it has got, and what it puts on its data line."""

from collections.abc import Sequence
from random import Random

import numpy as np

from patterns.plain import Bytes
from streamer.display.model import Controller, Port
from streamer.yard.controller import settings_of
from streamer.yard.faults import Fault, Loss
from streamer.yard.hanging import string_of
from streamer.yard.intake import Arrival, Intake, OnLoss

WHOLE_PERCENT = 100


class YardPort:
    """A port, with its own string in view: which line that one really hangs on is the yard's business."""

    def __init__(self, controller: Controller, port: Port, on_loss: OnLoss, seed: int) -> None:
        self.controller = controller
        self.port = port
        self.intake = Intake(on_loss)
        self._draw = Random(f"{seed} {port.name}")  # noqa: S311  a repeatable draw is the purpose
        self.set_faults(())

    def set_faults(self, faults: Sequence[Fault]) -> None:
        """Have these faults, in place of those before."""
        self.faults = tuple(faults)
        self.string = string_of(self.port, self.faults)
        self.settings = settings_of(self.controller, self.port, self.faults)
        self._loss_percent = next((fault.percent for fault in self.faults if isinstance(fault, Loss)), 0.0)
        octets = list(self.settings.octets())
        if {universe for universe, _ in octets} != set(self.intake.rows):
            self.intake.listen(universe for universe, _ in octets)
        self._line = (
            np.array([self.intake.rows[universe] for universe, _ in octets], np.intp),
            np.array([slot for _, slot in octets], np.intp),
        )

    def take(self, packet: Arrival, ip: str, now: float) -> None:
        """Take a packet from the network, unless it is lost on the way."""
        if not self._loss_percent or self._draw.random() * WHOLE_PERCENT >= self._loss_percent:
            self.intake.take(packet, ip, now)

    def line(self) -> Bytes:
        """Return the octets on the data line, first out first."""
        return self.intake.levels[self._line]
