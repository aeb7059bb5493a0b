"""The answers that can be given: a key, a light of the colour where it is one, and words."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from textual.content import Content
from textual.message import Message
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from tui.plain import shown

if TYPE_CHECKING:
    from patterns.plain import Bytes


class Answers(OptionList):
    """A list to be answered by arrows and Enter or with the mouse; while it is closed it says that it is."""

    class Closed(Message):
        """Something was chosen that could not be answered yet."""

    class Unchosen(Message):
        """Enter came before any of them was chosen: one that was pressed twice is no answer."""

    is_closed = True

    def set_closed(self, is_closed: bool) -> None:  # noqa: FBT001  what it is set to
        """Open or close it; closed, it is drawn faint."""
        self.is_closed = is_closed
        self.set_class(is_closed, "is-coming")

    def offer(self, answers: Sequence[tuple[str, str]], lights: "Mapping[str, Bytes]") -> None:
        """Show these keys and words; `lights` are those that are a colour, (4,), by their keys."""
        self.clear_options()
        self.add_options(Option(_answer(key, words, lights.get(key)), id=key) for key, words in answers)
        self.display = bool(answers)
        self.highlighted = None

    def action_select(self) -> None:
        """Choose what is highlighted, by Enter or by the mouse."""
        if self.is_closed:
            self.post_message(self.Closed())
        elif self.highlighted is None:
            self.post_message(self.Unchosen())
        else:
            super().action_select()


def _answer(key: str, words: str, light: "Bytes | None") -> Content:
    if light is None:
        return Content.assemble((f" {key} ", "bold $accent"), f" {shown(words)}")
    from tui.beads import bead, beads_of

    letter, style = bead(int(beads_of(light[None], 1.0)[0]))
    colours = f"bold {style.color.name} on {style.bgcolor.name}" if style else ""  # type: ignore[union-attr]
    return Content.assemble((f" {key} ", "bold $accent"), (f" {letter} ", colours), f" {shown(words)}")
