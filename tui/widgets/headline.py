"""What to look at, or what it has come to: a word or two that can be read at arm's length."""

from textual.content import Content
from textual.widgets import Static

from tui.widgets.bigtype import big

EDGES = 4
"""Cells that a sheet leaves free beside what it says."""


class Headline(Static):
    """Not there where it has nothing to say, or no room for it; the sentence below says the same in full."""

    def tell(self, text: str, *, has_room: bool) -> None:
        """Show the text, if its letters fit beside each other in the width of the sheet."""
        rows = big(text)
        self.display = bool(text) and has_room and len(rows[0]) <= self.app.size.width - EDGES
        self.update(Content("\n".join(rows)))
