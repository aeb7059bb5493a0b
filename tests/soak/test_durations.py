"""How long, and until when."""

import os
import time as clock
from datetime import datetime, time, timedelta

import pytest

from streamer.errors import PlanError
from streamer.soak.durations import in_words, next_moment, parse_duration, parse_moment


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("8h", 28_800), ("90m", 5_400), ("30s", 30), ("1h30m", 5_400), (" 2H ", 7_200), ("744h", 31 * 86_400)],
)
def test_times_as_people_write_them(text: str, seconds: float):
    """Hours, minutes, seconds; two of them together."""
    assert parse_duration(text, "--for") == seconds


@pytest.mark.parametrize(
    "text", ["", "8", "h", "0s", "745h", "1d", "-1h", "1.5h", "8h " * 9, "m30", "٣h", "1e3s"]
)
def test_what_is_no_time_is_told_with_how_to_write_one(text: str):
    """Neither guessed nor taken as nought."""
    with pytest.raises(PlanError, match="such as 8h, 90m, 30s or 1h30m"):
        parse_duration(text, "--for")


def test_times_of_day():
    """Of 24 hours."""
    assert parse_moment("06:00", "--until") == time(6)
    assert parse_moment("6:30", "--until") == time(6, 30)
    for text in ("24:00", "6", "6:60", "06:00:00", "six", ""):
        with pytest.raises(PlanError, match="such as 06:00"):
            parse_moment(text, "--until")


@pytest.mark.parametrize(
    ("now", "hours"),
    [("2026-11-29 22:00", 8), ("2026-11-29 05:59", 1 / 60), ("2026-11-29 06:00", 24)],
)
def test_the_next_six_in_the_morning(now: str, hours: float):
    """Today, if it is still to come; a moment that has just come is tomorrow's."""
    at = datetime.fromisoformat(now).astimezone()
    assert next_moment(time(6), at) - at == pytest.approx(timedelta(hours=hours), abs=timedelta(seconds=1))


def test_a_night_in_which_summer_time_ends_is_an_hour_longer(monkeypatch: pytest.MonkeyPatch):
    """Central European Time, 25 October 2026: the clock shows 02:00 to 03:00 twice (Directive 2000/84/EC)."""
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    clock.tzset()
    try:
        at = datetime(2026, 10, 24, 22, 0).astimezone()
        assert next_moment(time(6), at).timestamp() - at.timestamp() == 9 * 3600
    finally:
        os.environ.pop("TZ")
        clock.tzset()


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0.4, "0.4 s"),
        (4, "4 s"),
        (59.7, "1 min"),
        (60, "1 min"),
        (200, "3 min 20 s"),
        (3600, "1 h"),
        (29_100, "8 h 5 min"),
    ],
)
def test_lengths_in_words(seconds: float, words: str):
    """Two units at the most."""
    assert in_words(seconds) == words
