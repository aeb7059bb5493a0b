"""Moments and lengths in words, by the clock on the wall where the run was begun."""

from datetime import UTC, datetime, timedelta, timezone

MINUTE_S, HOUR_S, DAY_S = 60, 3_600, 86_400
SHORT_S = 9.95
UNKNOWN = "at a time unknown"


def wall(unix_s: float, offset_minutes: int) -> datetime | None:
    """Return the clock on the wall; None for what no calendar has."""
    try:
        zone = timezone(timedelta(minutes=offset_minutes))
        return datetime.fromtimestamp(unix_s, UTC).astimezone(zone)
    except (ValueError, OverflowError, OSError):
        return None


def day_text(unix_s: float, offset_minutes: int) -> str:
    """Return "2026-11-30 22:00 +01:00"."""
    at = wall(unix_s, offset_minutes)
    return f"{at:%Y-%m-%d %H:%M} {at.isoformat()[-6:]}" if at else UNKNOWN


def clock_text(unix_s: float, offset_minutes: int) -> str:
    """Return "22:00:05"."""
    at = wall(unix_s, offset_minutes)
    return f"{at:%H:%M:%S}" if at else UNKNOWN


def length_text(seconds: float) -> str:
    """Return "0.4 s", "12 s", "3 min 20 s", "8 h 5 min", "2 d 3 h"."""
    if seconds < SHORT_S:
        return f"{seconds:.1f} s"
    whole = round(seconds)
    for unit_s, unit, smaller_s, smaller in (
        (DAY_S, "d", HOUR_S, "h"),
        (HOUR_S, "h", MINUTE_S, "min"),
        (MINUTE_S, "min", 1, "s"),
    ):
        if whole >= unit_s:
            rest = whole % unit_s // smaller_s
            return f"{whole // unit_s} {unit} {rest} {smaller}" if rest else f"{whole // unit_s} {unit}"
    return f"{whole} s"
