"""Makes text from outside fit to be shown: one line, no control characters, never longer than asked."""

import unicodedata

REPLACEMENT = "\N{REPLACEMENT CHARACTER}"
ELLIPSIS = "…"
UNSAFE_CATEGORIES = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
"""Unicode general categories that steer a terminal or its text direction, or that have no glyph."""


def shown(text: str) -> str:
    """Return the text with every unsafe character replaced by a visible one."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(REPLACEMENT if unicodedata.category(each) in UNSAFE_CATEGORIES else each for each in text)


def cut(text: str, cells: int) -> str:
    """Return the text fit to be shown, padded or cut (with an ellipsis) to exactly so many cells."""
    from rich.cells import cell_len, set_cell_size

    clean = shown(text)
    if cell_len(clean) <= cells:
        return set_cell_size(clean, cells)
    return set_cell_size(clean, max(0, cells - 1)) + ELLIPSIS[:cells]
