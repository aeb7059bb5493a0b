"""Gives a port of the yard a fault, to try whether it can be found."""

import random
from collections.abc import Iterable
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widget import Widget

from streamer.display.model import Port
from streamer.yard.faults import Fault
from tui.fault_kinds import KINDS, FaultKind
from tui.plain import shown
from tui.screens.sheet import Sheet
from tui.widgets.dial import Dial


class Faults(Sheet[tuple[str, Fault]]):
    """Answers the port's name and the fault."""

    title_text = "A fault for the yard"
    caps = (("Enter", "Give it", "screen.give"), ("Esc", "Back", "screen.back_out"))
    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "give", "Give it", show=False)]

    def __init__(self, ports: tuple[Port, ...], port: Port, chance: random.Random) -> None:
        super().__init__()
        self._ports, self._port, self._chance = ports, port, chance
        self._kind = KINDS[0]

    def body(self) -> Iterable[Widget]:
        """Return three dials: where, which, how much."""
        names = tuple(each.name for each in self._ports)
        with VerticalScroll(classes="sheet-body", can_focus=False):
            yield Dial("port", self._port.name, "Where.", read=str, choices=names, field="port")
            labels = tuple(each.label for each in KINDS)
            yield Dial("fault", self._kind.label, self._kind.sentence, read=str, choices=labels, field="kind")
            yield Dial("how", self._usual(self._kind), self._kind.form, read=str, field="how")

    def _usual(self, kind: FaultKind) -> str:
        if kind.word == "swapped":
            return next((each.name for each in self._ports if each.name != self._port.name), "")
        return kind.usual(self._port, self._chance)

    def on_mount(self) -> None:
        """Begin with the kind."""
        self._dial("kind").focus()

    def _dial(self, field: str) -> Dial:
        return next(each for each in self.query(Dial) if each.field == field)

    def on_dial_turned(self, event: Dial.Turned) -> None:
        """Offer a usual value for the fault and the port."""
        if event.dial.field == "how":
            return
        self._port = next(each for each in self._ports if each.name == self._dial("port").value)
        self._kind = next(each for each in KINDS if each.label == self._dial("kind").value)
        self._dial("kind").sentence = self._kind.sentence
        self._dial("how").value, self._dial("how").sentence = self._usual(self._kind), self._kind.form
        for dial in self.query(Dial):
            dial.refresh(layout=True)

    def action_give(self) -> None:
        """Give the fault, or say what is wrong with the value."""
        how = self._dial("how")
        try:
            fault = self._kind.make(str(how.value))
        except ValueError as wrong:
            how.problem = shown(str(wrong))
            how.refresh(layout=True)
        else:
            self.dismiss((self._port.name, fault))
