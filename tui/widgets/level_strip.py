"""The slots of a universe as rows of cells, as high as their level, with a cursor on one of them."""

from typing import ClassVar

from rich.segment import Segment
from textual.geometry import Size
from textual.strip import Strip
from textual.widget import Widget

from streamer.display.model import SLOTS_PER_UNIVERSE

LABEL_CELLS = 5
WIDTHS = (256, 128, 64, 32, 16, 8)
LEVEL_MAX = 255


class LevelStrip(Widget):
    """As many slots a row as fit, a power of two, each row headed by the number of its first."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {"strip--cursor", "strip--quiet"}

    def __init__(self) -> None:
        super().__init__()
        self._levels: tuple[int, ...] = ()
        self._slot = 1

    @property
    def slots_per_row(self) -> int:
        """How many slots a row has at this width."""
        return self._fitting(self.size.width)

    @staticmethod
    def _fitting(width: int) -> int:
        return next((each for each in WIDTHS if each + LABEL_CELLS <= width), WIDTHS[-1])

    def show(self, levels: tuple[int, ...], slot: int) -> None:
        """Show these levels, with the cursor on a slot, from 1."""
        if (levels, slot) != (self._levels, self._slot):
            self._levels, self._slot = levels, slot
            self.refresh()

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the rows that a whole universe takes."""
        del container, viewport
        return SLOTS_PER_UNIVERSE // self._fitting(width)

    def render_line(self, y: int) -> Strip:
        """Return a row; a slot that is not sent is a dot."""
        from streamer.cli.levels import cell

        count = self.slots_per_row
        first = y * count + 1
        quiet, cursor = (
            self.get_component_rich_style("strip--quiet"),
            self.get_component_rich_style("strip--cursor"),
        )
        segments = [Segment(f"{first:>{LABEL_CELLS - 1}} ", quiet)]
        for slot in range(first, first + count):
            is_sent = slot <= len(self._levels)
            text = cell(self._levels[slot - 1]) if is_sent else "·"
            style = cursor if slot == self._slot else self.rich_style if is_sent else quiet
            segments.append(Segment(text, style))
        return Strip(segments).simplify()
