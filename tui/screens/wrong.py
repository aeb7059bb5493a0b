"""What is wrong, and where: which port, with which eyes, and what one has in mind. It begins the search."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widget import Widget

from streamer.find.answers import EYES
from streamer.find.suspects import ANYTHING, SUSPECTS
from tui.screens.sheet import Sheet
from tui.widgets.dial import Dial

ALL_PORTS = "all ports"
SUSPECT_SENTENCE = "What it may be; one thing only takes fewer looks, and thinks of nothing else."


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be searched: these ports, with these eyes, for this."""

    ports: tuple[str, ...]
    eyes: str
    suspect: str
    is_round: bool


class Wrong(Sheet[Wanted]):
    """Answers what is to be searched."""

    title_text = "What's wrong?"
    caps = (("Enter", "Begin", "screen.begin"), ("Esc", "Back", "screen.back_out"))
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "begin", "Begin", show=False),
        Binding("w", "begin", "Begin", show=False),
    ]

    def __init__(self, ports: tuple[str, ...], port: str, eyes: str) -> None:
        super().__init__()
        self._ports, self._port, self._eyes = ports, port, eyes

    def body(self) -> Iterable[Widget]:
        """Return three dials: where, for whose eyes, for what."""
        with VerticalScroll(classes="sheet-body", can_focus=False):
            ports = (*self._ports, ALL_PORTS)
            yield Dial(
                "port",
                self._port,
                "One port, or all (a), one after another.",
                read=str,
                choices=ports,
                field="port",
            )
            yield Dial(
                "eyes", self._eyes, EYES[self._eyes].sentence, read=str, choices=tuple(EYES), field="eyes"
            )
            yield Dial(
                "suspect", ANYTHING, SUSPECT_SENTENCE, read=str, choices=tuple(SUSPECTS), field="suspect"
            )

    def on_mount(self) -> None:
        """Begin with the port."""
        self._dial("port").focus()

    def _dial(self, field: str) -> Dial:
        return next(each for each in self.query(Dial) if each.field == field)

    def on_dial_turned(self, event: Dial.Turned) -> None:
        """Say what the chosen eyes tell apart."""
        if event.dial.field == "eyes":
            event.dial.sentence = EYES[str(event.dial.value)].sentence
            event.dial.refresh(layout=True)

    def action_begin(self) -> None:
        """Answer with what the dials say, once they have taken in all that was typed."""
        self.once_typed(self._begin_as_set)

    def _begin_as_set(self) -> None:
        port, eyes, suspect = (str(self._dial(field).value) for field in ("port", "eyes", "suspect"))
        is_round = port == ALL_PORTS
        self.dismiss(Wanted(self._ports if is_round else (port,), eyes, suspect, is_round))
