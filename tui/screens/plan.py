"""Where the lights are: a display file or just universes, and where the packets go. Nothing is sent from here."""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Input, Static

from streamer.display.model import MULTICAST, Display, Protocol
from streamer.engine.messages import Setup
from streamer.errors import PlanError, RopewalkError
from tui.memory import Memory
from tui.plain import shown
from tui.screens.sheet import Sheet
from tui.widgets.dial import Dial

FILE, UNIVERSES, SAMPLE = "file", "universes", "sample"
SOURCES = (FILE, UNIVERSES, SAMPLE)
NODES_PER_UNIVERSE = 170
NODES_PER_UNIVERSE_HIGH = 170
SYSTEM_CHOOSES = "the system chooses"
FILES_OFFERED = 50
NONE_CHOSEN = "none"


class Labelled(Vertical):
    """A text field with its name above."""

    def __init__(self, label: str, field: Input, classes: str) -> None:
        super().__init__(classes=f"labelled {classes}")
        self._label, self._field = label, field

    def compose(self) -> ComposeResult:
        """Put the two together."""
        yield Static(Content(self._label))
        yield self._field


class PlanSheet(Sheet[Setup]):
    """Answers the setup to use; `load` reads a file, `interfaces` are the names to choose from."""

    title_text = "Where the lights are"
    caps = (("Enter", "Use it", "screen.use"), ("Esc", "Back", "screen.back_out"))
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "use", "Use it", show=False),
        Binding("down", "app.focus_next", "Down", show=False),
        Binding("up", "app.focus_previous", "Up", show=False),
    ]

    def __init__(self, memory: Memory, setup: Setup | None, interfaces: Callable[[], tuple[str, ...]]) -> None:
        super().__init__()
        self._memory, self._setup, self._interfaces = memory, setup, interfaces

    def body(self) -> Iterable[Widget]:
        """Return the fields and, below, what the plan comes to or what is wrong with it."""
        memory = self._memory
        found = tuple(str(each) for each in sorted(Path().glob("*.toml"))[:FILES_OFFERED])
        interfaces = (SYSTEM_CHOOSES, *self._interfaces())
        chosen = memory.interface if memory.interface in interfaces else SYSTEM_CHOOSES
        with VerticalScroll(classes="sheet-body", can_focus=False):
            yield Dial("from", FILE, "A display file, bare universes, or the sample.", read=str, choices=SOURCES, field="source")
            yield Labelled("Display file", Input(memory.display_file, placeholder="display.toml", id="path", compact=True), "of-file")
            yield self._dial("found here", NONE_CHOSEN, "Files in this folder.", (NONE_CHOSEN, *found), "found", "of-file")
            yield Labelled("Universes", Input(memory.universes, placeholder="1-4,7", id="ranges", compact=True), "of-universes")
            protocols = tuple(map(str, Protocol))
            yield self._dial("protocol", protocols[0], "E1.31 (sACN) or Art-Net.", protocols, "protocol", "of-universes")
            yield Labelled(
                f"Send to: addresses, or {MULTICAST}",
                Input(memory.address, placeholder="192.168.1.50", id="address", compact=True), "of-universes",
            )
            yield self._nodes_dial()
            yield self._dial("interface", chosen, "Which way out.", interfaces, "interface", "of-all")
            yield Static(id="verdict")

    @staticmethod
    def _dial(label: str, value: str, sentence: str, choices: tuple[str, ...], field: str, classes: str) -> Dial:
        dial = Dial(label, value, sentence, read=str, choices=choices, field=field)
        dial.add_class(classes)
        return dial

    @staticmethod
    def _nodes_dial() -> Dial:
        def read(text: str) -> int:
            if not text.isdecimal() or not 1 <= int(text) <= NODES_PER_UNIVERSE_HIGH:
                raise ValueError(f"a whole number from 1 to {NODES_PER_UNIVERSE_HIGH}")
            return int(text)

        dial = Dial(
            "nodes", NODES_PER_UNIVERSE, "RGB nodes in each universe.", read=read,
            low=1, high=NODES_PER_UNIVERSE_HIGH, field="nodes",
        )  # fmt: skip
        dial.add_class("of-universes")
        return dial

    def on_mount(self) -> None:
        """Show the fields of the source."""
        self._show_fields()
        self.query_one("#path", Input).focus()

    def _value(self, field: str) -> str:
        return str(next(each.value for each in self.query(Dial) if each.field == field))

    def _show_fields(self) -> None:
        source = self._value("source")
        for each in (FILE, UNIVERSES):
            self.query(f".of-{each}").set(display=source == each)

    def on_dial_turned(self, event: Dial.Turned) -> None:
        """Show other fields, or take a found file as the one."""
        if event.dial.field == "found" and event.dial.value != NONE_CHOSEN:
            self.query_one("#path", Input).value = str(event.dial.value)
        self._show_fields()

    def on_input_submitted(self, _event: Input.Submitted) -> None:
        """Enter in a field uses the plan as it stands."""
        self.action_use()

    def action_use(self) -> None:
        """Use the plan, or show everything that is wrong with it."""
        try:
            setup = self._made()
        except PlanError as error:
            lines = [Content.styled(f"{len(error.problems)} to put right; nothing is changed yet.", "$error bold")]
            for each in error.problems:
                place = f"line {each.line}, {each.place}" if each.line and f":{each.line}" not in each.place else each.place
                lines.append(Content.assemble((f"! {shown(place)}", "bold"), f"\n  {shown(each.what)}.\n  ", (shown(each.instead), "$accent")))
            self._say(Content("\n").join(lines))
        except RopewalkError as error:
            self._say(Content.styled(shown(str(error)), "$error bold"))
        else:
            self._memory.interface = setup.interface or ""
            self.dismiss(setup)

    def _say(self, content: Content) -> None:
        verdict = self.query_one("#verdict", Static)
        verdict.update(content)
        self.call_after_refresh(verdict.scroll_visible, top=True, animate=False)

    def _made(self) -> Setup:
        interface = self._value("interface")
        wishes = {"display": self._display(), "interface": None if interface == SYSTEM_CHOOSES else interface}
        return self._setup.model_copy(update=wishes) if self._setup else Setup(**wishes)  # type: ignore[arg-type]

    def _display(self) -> Display:
        match self._value("source"):
            case "file":
                return self._from_file()
            case "universes":
                return self._from_universes()
            case _:
                from streamer.display.sample import sample_display

                return sample_display()

    def _from_file(self) -> Display:
        from streamer.display.file import load

        path = self.query_one("#path", Input).value.strip()
        display = load(Path(path).expanduser())
        self._memory.display_file = path
        return display

    def _from_universes(self) -> Display:
        from streamer.display.ranges import display_from_ranges, parse_ranges

        ranges, address = (self.query_one(f"#{each}", Input).value.strip() for each in ("ranges", "address"))
        self._memory.universes, self._memory.address = ranges, address
        protocol = Protocol(self._value("protocol"))
        addresses = tuple(each.strip() for each in address.split(","))
        return display_from_ranges(parse_ranges(ranges, protocol), protocol, addresses, int(self._value("nodes")))
