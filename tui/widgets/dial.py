"""A dial: one setting on one row. Arrows turn it, typing replaces it, a tap on its ends turns it too."""

from collections.abc import Callable
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.events import Click, Key
from textual.message import Message
from textual.widget import Widget

from tui.plain import cut, shown

Value = int | float | bool | str
END_CELLS = 4
"""How wide each end is for a finger."""
YES, NO = "yes", "no"
MANY, ONE = "nodes", "node"
LONGEST = 60
VALUE_LEAST, VALUE_MOST, NAME_CELLS = 8, 28, 20
"""Cells for the value, and for the name with the two ends where that leaves room."""


class Dial(Widget, can_focus=True):
    """A number, a choice, a yes or no, or a word.

    `read` turns typed text into a value and raises ValueError with what is wrong; `field` is whatever
    the owner knows the dial by.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left", "turn(-1)", "Less", show=False),
        Binding("right", "turn(1)", "More", show=False),
        Binding("pagedown", "turn(-10)", "Much less", show=False),
        Binding("pageup", "turn(10)", "Much more", show=False),
        Binding("up", "app.focus_previous", "Up", show=False),
        Binding("down", "app.focus_next", "Down", show=False),
    ]

    class Turned(Message):
        """The dial stands at another valid value."""

        def __init__(self, dial: "Dial") -> None:
            super().__init__()
            self.dial = dial

    def __init__(  # noqa: PLR0913  a dial is what it is told
        self,
        name: str,
        value: Value,
        sentence: str,
        *,
        read: Callable[[str], Value],
        choices: tuple[str, ...] = (),
        low: float | None = None,
        high: float | None = None,
        unit: str = "",
        turn_by: float = 1,
        field: str = "",
    ) -> None:
        super().__init__()
        self.label, self.value, self.sentence, self.unit = name, value, sentence, unit
        self.field = field
        self.choices = (YES, NO) if isinstance(value, bool) else choices
        self._read, self._low, self._high, self._turn_by = read, low, high, turn_by
        self._typed: str | None = None
        self.problem = ""

    @property
    def takes_space(self) -> bool:
        """Whether a space is part of what may be typed here."""
        return isinstance(self.value, str) and not self.choices

    @property
    def text(self) -> str:
        """The value as it is written."""
        if isinstance(self.value, bool):
            return YES if self.value else NO
        return f"{self.value:g}" if isinstance(self.value, float) else str(self.value)

    @property
    def _room(self) -> int:
        return max(VALUE_LEAST, min(VALUE_MOST, self.size.width - NAME_CELLS))

    def render(self) -> Content:
        """Return name and value on a row; below, what it is for or what is wrong with what was typed."""
        width = self.size.width
        written = self.text if self._typed is None else f"{self._typed}▁"
        room = self._room
        unit = ONE if (written, self.unit) == ("1", MANY) else self.unit
        shown_value = f"{written} {unit}".rstrip() if len(written) + len(unit) < room else written
        name = cut(self.label, max(0, width - room - 2 * END_CELLS))
        value = cut(shown_value.center(room), room)
        note = (
            Content.styled(f"! {self.problem}", "$error")
            if self.problem
            else Content.styled(shown(self.sentence), "$quiet")
        )
        return Content.assemble(
            (name, "bold"), (" ◂  ", "$accent"), (value, "bold $accent"), ("  ▸ ", "$accent"), "\n", note
        )

    def action_turn(self, by: int) -> None:
        """Turn by so many marks."""
        self._typed, self.problem = None, ""
        if self.choices:
            at = self.choices.index(self.text) if self.text in self.choices else 0
            self._accept(self.choices[(at + (1 if by > 0 else -1)) % len(self.choices)])
        elif isinstance(self.value, int | float):
            number = self.value + by * self._turn_by
            number = number if self._low is None else max(self._low, number)
            number = number if self._high is None else min(self._high, number)
            self._accept(f"{number:g}")

    def _accept(self, text: str) -> None:
        try:
            value = self._read(text)
        except ValueError as wrong:
            self.problem = shown(str(wrong))
            self.refresh(layout=True)
        else:
            self.problem = ""
            if value != self.value:
                self.value = value
                self.post_message(self.Turned(self))
        self.refresh()

    def on_key(self, event: Key) -> None:
        """Type: what is typed replaces the value as soon as it is a valid one."""
        if event.key == "backspace":
            self._typed = (self.text if self._typed is None else self._typed)[:-1]
        elif event.character is not None and event.is_printable:
            self._typed = ((self._typed or "") + event.character)[:LONGEST]
        else:
            return
        event.stop()
        if self.choices:
            self._jump(self._typed)
        else:
            self._accept(self._typed)

    def _jump(self, typed: str) -> None:
        """Turn to the first choice that begins like this; what begins none is forgotten."""
        found = [each for each in self.choices if typed and each.lower().startswith(typed.lower())]
        if found:
            self._accept(found[0])
        self._typed = typed if found else None
        self.refresh()

    def on_blur(self) -> None:
        """Forget what was typed: a valid value is taken already."""
        self._typed, self.problem = None, ""
        self.refresh()

    def on_click(self, event: Click) -> None:
        """Turn up at the right end, down left of the value."""
        left_end = self.size.width - self._room - 2 * END_CELLS
        if event.x >= self.size.width - END_CELLS:
            self.action_turn(1)
        elif left_end <= event.x < left_end + END_CELLS:
            self.action_turn(-1)
