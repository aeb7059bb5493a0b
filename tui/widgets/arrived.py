"""What arrives on one or two strings of the yard: a cell a node, in as many lines as that takes."""

from typing import TYPE_CHECKING

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Size
from textual.strip import Strip
from textual.widget import Widget

from tui.plain import cut

if TYPE_CHECKING:
    from patterns.plain import Bytes


class Arrived(Widget):
    """Each string: its name, then its nodes."""

    def __init__(self) -> None:
        super().__init__()
        self._strings: tuple[tuple[str, Bytes], ...] = ()
        self._gain = 1.0

    def see(self, strings: "tuple[tuple[str, Bytes], ...]", gain: float) -> None:
        """Show these names and nodes, (n, 4), lights of this level brought to full."""
        is_taller = [len(nodes) for _, nodes in strings] != [len(nodes) for _, nodes in self._strings]
        self._strings, self._gain = strings, gain
        self.refresh(layout=is_taller)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return a line for each name, and as many as its nodes take."""
        del container, viewport
        return sum(1 + -(-len(nodes) // max(1, width)) for _, nodes in self._strings)

    def render_line(self, y: int) -> Strip:
        """Return one line."""
        from tui.beads import bead, beads_of

        width = max(1, self.size.width)
        for name, nodes in self._strings:
            lines = -(-len(nodes) // width)
            if y == 0:
                return Strip([Segment(cut(name, width), Style(dim=True))])
            if y <= lines:
                drawn = beads_of(nodes[(y - 1) * width : y * width], self._gain).tolist()
                return Strip([Segment(*bead(each)) for each in drawn])
            y -= 1 + lines
        return Strip.blank(width)
