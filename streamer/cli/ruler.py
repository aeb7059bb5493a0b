"""Sets text into lines of a terminal: labels at the left, sentences wrapped beside them."""

import textwrap
from collections.abc import Iterator

TIED = "\N{NO-BREAK SPACE}"
"""Stands between what stays together, as a number and its unit do; printed as a space."""
NARROW = 60
"""Columns below which labels have lines to themselves."""
STEP = 4


class Ruler:
    """Wraps text beside labels of up to `label_width` characters, on so many columns."""

    def __init__(self, width: int, label_width: int) -> None:
        self.width = width
        self.indent = label_width + 2 if width >= NARROW else STEP

    def plain(self, text: str, indent: int = 0, hang: int = STEP) -> Iterator[str]:
        """Yield the lines of a paragraph; those after the first are indented by `hang` more."""
        return self._wrap(text, " " * indent, indent + hang)

    def beside(self, label: str, *sentences: str) -> Iterator[str]:
        """Yield each sentence on lines of its own beside a label, or below one that is too long."""
        head = label if len(label) < self.indent else ""
        if not head:
            yield from self.plain(label)
        for sentence in sentences:
            yield from self._wrap(sentence, head.ljust(self.indent), self.indent)
            head = ""

    def _wrap(self, text: str, first: str, indent: int) -> Iterator[str]:
        # Only at spaces: a range of slots that is broken in two is misread.
        lines = textwrap.wrap(
            text, self.width, initial_indent=first, subsequent_indent=" " * indent, break_on_hyphens=False
        )
        return (line.replace(TIED, " ") for line in lines)
