"""Every key, from the table of actions, and the cautions."""

from collections.abc import Iterable
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from tui.actions import ACTIONS
from tui.cautions import text
from tui.screens.sheet import Sheet

KEY_CELLS = 10
NARROW = 60
NOTES = (
    "Marks on a row: = arrives as sent; ≠ differs; ~ moves too fast to be judged. A lit node is a letter "
    "(R G B Y C M W), small while dim; a dark node is a dot, or a dash where the port is off. Lights are "
    "drawn at the brightness of the screen; the level is in the line at the top.\n\n"
    "Of a string longer than the screen a dot stands for several nodes, the brightest of them, so that a lit "
    "node never vanishes: 'dot = 3' over the rows says how many. z shows every node by itself.\n\n"
    "Keep Shift (on some terminals Option) held to select text with the mouse. Too few colours over ssh? Set "
    "COLORTERM=truecolor, or TEXTUAL_COLOR_SYSTEM=256."
)


class Help(Sheet[None]):
    """Scrolls."""

    title_text = "Keys and cautions"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("question_mark,f1,q", "back_out", "Back", show=False)]

    def body(self) -> Iterable[Widget]:
        """Return the keys by group, then the cautions."""
        with VerticalScroll(classes="sheet-body"):
            yield Static(self._keys())
            yield Static(Content(NOTES + "\n"))
            yield Static(Content.styled("Cautions", "bold $accent"))
            yield Static(Content(text()))

    def _keys(self) -> Content:
        parts: list[Content] = []
        gap = "\n    " if self.app.size.width < NARROW else " "
        for group in dict.fromkeys(each.group for each in ACTIONS):
            parts.append(Content.styled(group, "bold $accent"))
            parts += [
                Content.assemble(
                    (f"{each.written:>{KEY_CELLS}}  ", "bold"),
                    f"{each.label}:{gap}",
                    (each.tooltip, "$quiet"),
                )
                for each in ACTIONS
                if each.group == group
            ]
            parts.append(Content(""))
        return Content("\n").join(parts)

    def on_mount(self) -> None:
        """Let the arrows scroll at once."""
        self.query_one(VerticalScroll).focus()
