"""Whether a cable has something at its other end, asked for at most once a second."""

from collections.abc import Callable

from streamer.net.interfaces import THIS_MACHINE, Interface, Machine, carrier

ASK_EACH_S = 1.0
NEVER_S = float("-inf")
CABLE_OUT = "its cable leads nowhere. Plug it in, or switch on the far end"
NETWORK_LEFT = "it is in no wireless network. Connect it, or go nearer"
INTERFACE_GONE = "it is gone or switched off. Plug the adapter in, or switch it on"
"""Short enough for the two lines that a screen of 40 columns has for it."""


class CarrierWatch:
    """Watches one interface by its name; without an interface nothing is known."""

    def __init__(
        self, interface: Interface | None, clock: Callable[[], float], machine: Machine = THIS_MACHINE
    ) -> None:
        self._name = None if interface is None or interface.is_loopback else interface.name
        self._is_wireless = bool(interface and interface.is_wireless)
        self._clock = clock
        self._machine = machine
        self._asked_s = NEVER_S
        self._known: bool | None = None
        self._losses = 0
        self._was_there = False

    @property
    def complaint(self) -> str:
        """What is wrong with it as a sentence with what to do; empty while nothing is known to be."""
        has_carrier = self.has_carrier
        if has_carrier or (has_carrier is None and not self._was_there):
            return ""
        if has_carrier is None:
            return f"{self._name}: {INTERFACE_GONE}"
        return f"{self._name}: {NETWORK_LEFT if self._is_wireless else CABLE_OUT}"

    @property
    def has_carrier(self) -> bool | None:
        """As found within the last second; None where not known, as while the interface is down."""
        self.look()
        return self._known

    def look(self) -> int:
        """Ask again if that is due, and return how often it was gone after it had been there."""
        now_s = self._clock()
        if self._name is not None and now_s - self._asked_s >= ASK_EACH_S:
            self._asked_s = now_s
            before, self._known = self._known, carrier(self._name, self._machine)
            self._losses += before is True and self._known is not True
            self._was_there |= self._known is True
        return self._losses
