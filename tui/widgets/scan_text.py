"""What a scan found, in lines laid out for any width."""

from typing import TYPE_CHECKING

from textual.content import Content
from textual.widgets import Static

from tui.plain import shown

if TYPE_CHECKING:
    from streamer.scan.telling import Line

STYLES = {"head": "bold $accent", "plain": "", "good": "$foreground", "bad": "$error bold", "quiet": "$quiet"}
"""By the tone of a line; each kind has a sign of its own as well."""


class ScanText(Static):
    """Says that it is asking until lines come; lays itself out anew at every width."""

    lines: "tuple[Line, ...]" = ()

    def show_lines(self, lines: "tuple[Line, ...]") -> None:
        """Show these lines."""
        self.lines = lines
        self._lay()

    def show_trouble(self, words: str) -> None:
        """Show why nobody can be asked."""
        self.lines = ()
        self.update(Content.styled(f"! {shown(words)}", "$error bold"))

    def on_resize(self) -> None:
        """Lay it out for the new width."""
        self._lay()

    def _lay(self) -> None:
        from streamer.scan.telling import wrapped

        if self.lines and self.size.width:
            width = self.size.width
            rows = [
                Content.styled(
                    "\n".join(map(shown, wrapped(each, width).split("\n"))), STYLES[each.tone.value]
                )
                for each in self.lines
            ]
            self.update(Content("\n").join(rows))
