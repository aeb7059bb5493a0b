"""The channel rows as CSV (RFC 4180), safe to open in a spreadsheet."""

import csv
import io
from dataclasses import fields
from operator import attrgetter

from streamer.display.model import Display
from streamer.plan.channels import ChannelRow, channel_rows

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""A spreadsheet takes text that begins so for a formula, and would carry it out (OWASP, CSV injection)."""
HEADER = tuple(field.name for field in fields(ChannelRow))
_CELLS = attrgetter(*HEADER)


def csv_text(display: Display) -> str:
    """Return a header and a row for each node and fixture channel, without the last line end."""
    sheet = io.StringIO()
    writer = csv.writer(sheet, lineterminator="\n")
    writer.writerow(HEADER)
    writer.writerows([_safe(cell) for cell in _CELLS(row)] for row in channel_rows(display))
    return sheet.getvalue().rstrip("\n")


def _safe(cell: object) -> object:
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(FORMULA_STARTS) else cell
