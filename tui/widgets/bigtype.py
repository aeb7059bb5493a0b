"""Letters and digits three rows tall, to be read at arm's length; nothing is said by them alone.

Each is drawn on five rows of dots, two dots to a cell.
"""

from collections.abc import Sequence

DOTS = {
    "A": ("010", "101", "111", "101", "101"),
    "D": ("110", "101", "101", "101", "110"),
    "E": ("111", "100", "110", "100", "111"),
    "G": ("0111", "1000", "1011", "1001", "0111"),
    "H": ("101", "101", "111", "101", "101"),
    "I": ("1", "1", "1", "1", "1"),
    "K": ("101", "101", "110", "101", "101"),
    "L": ("100", "100", "100", "100", "111"),
    "N": ("1001", "1101", "1011", "1001", "1001"),
    "O": ("010", "101", "101", "101", "010"),
    "R": ("110", "101", "110", "101", "101"),
    "U": ("101", "101", "101", "101", "111"),
    "0": ("111", "101", "101", "101", "111"),
    "1": ("01", "11", "01", "01", "01"),
    "2": ("111", "001", "111", "100", "111"),
    "3": ("111", "001", "011", "001", "111"),
    "4": ("101", "101", "111", "001", "001"),
    "5": ("111", "100", "111", "001", "111"),
    "6": ("111", "100", "111", "101", "111"),
    "7": ("111", "001", "010", "010", "010"),
    "8": ("111", "101", "111", "101", "111"),
    "9": ("111", "101", "111", "001", "111"),
    "/": ("001", "001", "010", "100", "100"),
    " ": ("00", "00", "00", "00", "00"),
}
HALVES = {("0", "0"): " ", ("1", "0"): "▀", ("0", "1"): "▄", ("1", "1"): "█"}
ROWS = 3
NO_DOTS = "0"


def big(text: str) -> tuple[str, str, str]:
    """Return the three rows of a text of the letters above; others are left out."""
    glyphs = [DOTS[each] for each in text.upper() if each in DOTS]
    return (_row(glyphs, 0), _row(glyphs, 1), _row(glyphs, 2))


def _row(glyphs: Sequence[tuple[str, ...]], row: int) -> str:
    return " ".join(
        "".join(HALVES[halves] for halves in zip(*_dot_rows(glyph, row), strict=True)) for glyph in glyphs
    )


def _dot_rows(glyph: tuple[str, ...], row: int) -> tuple[str, str]:
    upper = glyph[2 * row]
    return upper, glyph[2 * row + 1] if 2 * row + 1 < len(glyph) else NO_DOTS * len(upper)
