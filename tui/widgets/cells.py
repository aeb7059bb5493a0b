"""What is sent to one string: a row of cells."""

from typing import TYPE_CHECKING

from rich.segment import Segment
from textual.strip import Strip
from textual.widget import Widget

if TYPE_CHECKING:
    from patterns.plain import Bytes


class Cells(Widget):
    """The string as a row of cells, the rarest of several nodes where it is longer than the screen."""

    nodes: "Bytes | None" = None
    """(N, 4); None for nothing."""

    def render_line(self, y: int) -> Strip:
        """Return the row."""
        from tui.beads import bead, beads_of, rarest

        cells = self.nodes
        if y or cells is None or not len(cells):
            return Strip.blank(self.size.width)
        per_cell = -(-len(cells) // max(1, self.size.width))
        drawn = beads_of(rarest(cells, per_cell), 1.0).tolist()
        return Strip([Segment(*bead(each)) for each in drawn])
