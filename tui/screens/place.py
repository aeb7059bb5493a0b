"""Where the lights are: a display file or universes, and where packets go. Nothing is sent from here."""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Input, Static

from streamer.display.model import MULTICAST, Protocol
from streamer.engine.messages import Setup
from streamer.errors import PlanError, Problem, RopewalkError
from tui.choosing import found_here, name_among, open_words, setup_of, with_open
from tui.memory import FILE, NODES_PER_UNIVERSE, SOURCES, UNIVERSES, Memory
from tui.plain import shown
from tui.screens.sheet import Sheet
from tui.widgets.dial import Dial

SYSTEM_CHOOSES = "the system chooses"
FILES_OFFERED = 50
NONE_CHOSEN = "none"
TEXT_FIELDS = ("display_file", "universes", "address")
CHOICES = {
    "source": ("from", "A display file, bare universes, or the sample."),
    "found": ("found here", "Files in this folder."),
    "protocol": ("protocol", "E1.31 (sACN) or Art-Net."),
    "interface": ("interface", "Which way out."),
}
"""Label and sentence of what is chosen from a list."""


class Labelled(Vertical):
    """A text field with its name above, shown for one source of the display."""

    def __init__(self, label: str, field: str, value: str, example: str, source: str) -> None:
        super().__init__(classes=f"labelled of-{source}")
        self._label, self._field = label, Input(value, placeholder=example, id=field, compact=True)

    def compose(self) -> ComposeResult:
        """Put the two together."""
        yield Static(Content(self._label))
        yield self._field


def choice(field: str, value: str, choices: tuple[str, ...], source: str = "") -> Dial:
    """Return a dial to choose with, shown for one source of the display or for all."""
    label, sentence = CHOICES[field]
    dial = Dial(label, value, sentence, read=str, choices=choices, field=field)
    return dial.add_class(f"of-{source}") if source else dial


def nodes_dial(nodes: int) -> Dial:
    """Return the dial for the nodes in each universe."""

    def read(text: str) -> int:
        if not text.isdecimal() or not 1 <= int(text) <= NODES_PER_UNIVERSE:
            raise ValueError(f"a whole number from 1 to {NODES_PER_UNIVERSE}")
        return int(text)

    sentence = "RGB nodes in each universe."
    dial = Dial("nodes", nodes, sentence, read=read, low=1, high=NODES_PER_UNIVERSE, field="nodes")
    return dial.add_class(f"of-{UNIVERSES}")


class PlaceSheet(Sheet[tuple[Setup, Memory]]):
    """Answers the setup to use and what was chosen; `interfaces` gives the names to choose from.

    `opened` is the file that the display in hand is from.
    """

    title_text = "Where the lights are"
    caps = (("Enter", "Use it", "screen.use"), ("Esc", "Back", "screen.back_out"))
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "use", "Use it", show=False),
        Binding("down", "app.focus_next", "Down", show=False),
        Binding("up", "app.focus_previous", "Up", show=False),
    ]

    def __init__(
        self,
        memory: Memory,
        setup: Setup | None,
        interfaces: Callable[[], tuple[str, ...]],
        opened: Path | None = None,
    ) -> None:
        super().__init__()
        self._memory, self._setup, self._interfaces = with_open(memory, opened), setup, interfaces
        self._opened = opened

    def body(self) -> Iterable[Widget]:
        """Return the fields and, below, what the plan comes to or what is wrong with it."""
        memory = self._memory
        found = found_here(self._opened, FILES_OFFERED)
        here = name_among(found, self._opened) or NONE_CHOSEN
        interfaces = (SYSTEM_CHOOSES, *self._interfaces())
        interface = memory.interface if memory.interface in interfaces else SYSTEM_CHOOSES
        protocols = tuple(map(str, Protocol))
        with VerticalScroll(classes="sheet-body", can_focus=False):
            yield Static(Content(shown(open_words(self._setup, self._opened, memory))), id="open-now")
            yield choice("source", memory.source or FILE, SOURCES)
            yield Labelled("display file", "display_file", memory.display_file, "such as: display.toml", FILE)
            yield choice("found", here, (NONE_CHOSEN, *found), FILE)
            yield Labelled("universes", "universes", memory.universes, "such as: 1-4,7", UNIVERSES)
            yield choice("protocol", str(memory.protocol), protocols, UNIVERSES)
            yield Labelled(
                f"addresses, or {MULTICAST}", "address", memory.address, "such as: 192.168.1.50", UNIVERSES
            )
            yield nodes_dial(memory.nodes_per_universe)
            yield choice("interface", interface, interfaces)
            yield Static(id="verdict")

    def on_mount(self) -> None:
        """Show the fields of the source."""
        self._show_fields()
        if self._value("source") == FILE:
            self.query_one("#display_file", Input).focus()
        # The focus scrolls while all fields are still shown: what is open would be out of sight.
        self.call_after_refresh(self.query_one(VerticalScroll).scroll_home, animate=False)

    def _value(self, field: str) -> str:
        return str(next(each.value for each in self.query(Dial) if each.field == field))

    def _show_fields(self) -> None:
        source = self._value("source")
        for each in (FILE, UNIVERSES):
            self.query(f".of-{each}").set(display=source == each)

    def on_dial_turned(self, event: Dial.Turned) -> None:
        """Show other fields, or take a found file as the one."""
        if event.dial.field == "found" and event.dial.value != NONE_CHOSEN:
            self.query_one("#display_file", Input).value = str(event.dial.value)
        self._show_fields()

    def on_input_submitted(self, _event: Input.Submitted) -> None:
        """Enter in a field uses the plan as it stands."""
        self.action_use()

    def action_use(self) -> None:
        """Use the plan as it was typed, or show everything that is wrong with it."""
        self.once_typed(self._use_as_written)

    def _use_as_written(self) -> None:
        chosen = self._chosen()
        try:
            setup = setup_of(chosen, self._setup)
        except PlanError as error:
            head = f"{len(error.problems)} to put right; nothing is changed yet."
            lines = [Content.styled(head, "$error bold"), *map(self._told, error.problems)]
            self._say(Content("\n").join(lines))
        except RopewalkError as error:
            self._say(Content.styled(shown(str(error)), "$error bold"))
        else:
            self.dismiss((setup, chosen))

    @staticmethod
    def _told(problem: Problem) -> Content:
        line = f"line {problem.line}, " if problem.line and f":{problem.line}" not in problem.place else ""
        return Content.assemble(
            (f"! {line}{shown(problem.place)}", "bold"),
            f"\n  {shown(problem.what)}.\n  ",
            (shown(problem.instead), "$accent"),
        )

    def _say(self, content: Content) -> None:
        verdict = self.query_one("#verdict", Static)
        verdict.update(content)
        self.call_after_refresh(verdict.scroll_visible, top=True, animate=False)

    def _chosen(self) -> Memory:
        interface = self._value("interface")
        texts = {each: self.query_one(f"#{each}", Input).value.strip() for each in TEXT_FIELDS}
        return Memory.model_validate(
            {
                **self._memory.model_dump(),
                **texts,
                "source": self._value("source"),
                "protocol": self._value("protocol"),
                "nodes_per_universe": int(self._value("nodes")),
                "interface": "" if interface == SYSTEM_CHOOSES else interface,
            }
        )
