"""How long and until when, as people write it: "8h", "90m", "1h30m"; "06:00". Clocks are arguments."""

import re
from datetime import datetime, time, timedelta

from streamer.errors import PlanError, Problem

UNIT_S = {"h": 3600, "m": 60, "s": 1}
DURATION = re.compile(r"(?:([0-9]{1,4})h)?(?:([0-9]{1,5})m)?(?:([0-9]{1,7})s)?")
MOMENT = re.compile(r"([01]?[0-9]|2[0-3]):([0-5][0-9])")
LONGEST_S = 31 * 24 * 3600
"""A month: longer than any season's run without a look at it."""
DAY_S = 24 * 3600


def parse_duration(text: str, place: str) -> float:
    """Return the seconds of "8h", "90m", "30s" or "1h30m"; PlanError, about `place`, for anything else."""
    found = DURATION.fullmatch(text.strip().lower())
    numbers = found.groups(default="0") if found else ()
    seconds = sum(int(number) * unit_s for number, unit_s in zip(numbers, UNIT_S.values(), strict=False))
    if not 0 < seconds <= LONGEST_S:
        what = f"{text[:40]!r} is not a time of at least a second and at most 31 days"
        raise PlanError([Problem(place, what, "Write it such as 8h, 90m, 30s or 1h30m")])
    return float(seconds)


def parse_moment(text: str, place: str) -> time:
    """Return the time of day of "06:00"; PlanError, about `place`, for anything else."""
    found = MOMENT.fullmatch(text.strip())
    if not found:
        what = f"{text[:40]!r} is not a time of day"
        raise PlanError([Problem(place, what, "Write hours and minutes of 24 hours, such as 06:00")])
    return time(int(found[1]), int(found[2]))


def next_moment(of_day: time, now: datetime) -> datetime:
    """Return the next time that the clock on the wall shows this; `now` knows its time zone."""
    naive = now.replace(tzinfo=None)
    today = naive.replace(hour=of_day.hour, minute=of_day.minute, second=0, microsecond=0)
    # Made from what the wall shows, so that a night in which summer time ends is an hour longer.
    return (today if today > naive else today + timedelta(days=1)).astimezone()


def in_words(seconds: float) -> str:
    """Return "8 h 5 min", "3 min 20 s" or "0.4 s": two units at the most."""
    if round(seconds) < UNIT_S["m"]:
        return f"{seconds:.0f} s" if seconds >= 10 or seconds == int(seconds) else f"{seconds:.1f} s"  # noqa: PLR2004
    whole = round(seconds)
    if whole < UNIT_S["h"]:
        minutes, rest = divmod(whole, UNIT_S["m"])
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    hours, rest = divmod(round(whole / UNIT_S["m"]), UNIT_S["m"])
    return f"{hours} h {rest} min" if rest else f"{hours} h"
