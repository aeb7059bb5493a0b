"""What to look at, or what it has come to: a word or two that can be read at arm's length."""

from textual.content import Content
from textual.widgets import Static

from tui.widgets.bigtype import big

SHEET, EDGES = 72, 4
"""Cells that a sheet has on a wide screen, and those that it leaves free beside what it says."""


class Headline(Static):
    """Not there where it has nothing to say, or no room for it; the sentence below says the same in full."""

    def tell(self, text: str, *, has_room: bool) -> None:
        """Show the text, if its letters fit beside each other in the width of the sheet."""
        room = min(self.app.size.width, SHEET) - EDGES
        # Of "break 57/58" the place is what matters.
        told = text if len(big(text)[0]) <= room else text.rsplit(maxsplit=1)[-1]
        rows = big(told)
        is_all = told == text or any(map(str.isdecimal, told))
        self.display = bool(text) and has_room and is_all and len(rows[0]) <= room
        self.update(Content("\n".join(rows)))
