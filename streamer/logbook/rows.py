"""Entries as rows of SQLite and back. What a row says is checked before anybody sees it."""

import json
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

from pydantic import TypeAdapter

from streamer.logbook.records import Entry

COLUMNS = (
    "at_utc",
    "offset_minutes",
    "kind",
    "sort",
    "name",
    "label",
    "look",
    "question",
    "answer",
    "verdict",
    "words",
    "undoes",
    "fingerprint",
)
"""In the order of a row; a row that is read has the number before them."""
SECONDS_PER_MINUTE = 60

_ENTRY = TypeAdapter(Entry)


def row_of(entry: Entry) -> tuple[Any, ...]:
    """Return the columns of an entry: the time in UTC, and beside it the offset of the clock on the wall."""
    offset = entry.at.utcoffset() or timedelta()
    told = entry.model_dump(mode="json", exclude={"number", "at"})
    told["at_utc"] = entry.at.astimezone(UTC).isoformat()
    told["offset_minutes"] = int(offset.total_seconds()) // SECONDS_PER_MINUTE
    told["fingerprint"] = json.dumps(told["fingerprint"], separators=(",", ":"))
    return tuple(told[column] for column in COLUMNS)


def entry_of(row: tuple[Any, ...]) -> Entry:
    """Return the entry of a row, its number first; ValueError for one that is none of ours."""
    number, *columns = row
    told = dict(zip(COLUMNS, columns, strict=True))
    try:
        offset = timezone(timedelta(minutes=told.pop("offset_minutes")))
        told["at"] = datetime.fromisoformat(told.pop("at_utc")).astimezone(offset)
        told["fingerprint"] = json.loads(told["fingerprint"])
    except (TypeError, OverflowError, RecursionError) as error:
        raise ValueError(str(error)) from error
    return _ENTRY.validate_python({"number": number, **told})
