"""What is sent to one string: a row of cells."""

from rich.segment import Segment
from textual.strip import Strip
from textual.widget import Widget

from tui.session import Session


class Cells(Widget):
    """The string as a row of cells, the rarest of several nodes where it is longer than the screen."""

    session: Session | None = None

    def render_line(self, y: int) -> Strip:
        """Return the row."""
        from tui.beads import bead, beads_of, rarest

        cells = self.session.cells if self.session else None
        if y or cells is None or not len(cells):
            return Strip.blank(self.size.width)
        per_cell = -(-len(cells) // max(1, self.size.width))
        drawn = beads_of(rarest(cells, per_cell), 1.0).tolist()
        return Strip([Segment(*bead(each)) for each in drawn])
