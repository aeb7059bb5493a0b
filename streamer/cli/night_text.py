"""What is told of a night run while it goes: the line of the moment, and a line for each event."""

from datetime import datetime

from streamer.display.places import plain
from streamer.soak.durations import in_words
from streamer.soak.night import Night
from streamer.soak.records import Event, Severity

BAR_MOST = 24
BAR_LEAST = 6
SHORT = 60
"""Below so many columns only what matters most is told."""
FILLED, EMPTY = "#", "."
PERCENT = 100
MARKS = {Severity.NOTICE: " ", Severity.REMARK: "?", Severity.FAILURE: "!"}


def moment_line(night: Night, columns: int) -> str:
    """Return one line of at most `columns`: how far it is, the time left, what is up, what is wrong."""
    whole_s = max(night.deadline.at_run_s, 1.0)
    share = min(1.0, night.at.run_s / whole_s)
    is_narrow = columns < SHORT
    left = in_words(float(round(night.left_s)))
    texts = [f"{share * PERCENT:.0f} %", f"{left} left", *_wrong(night, is_narrow=is_narrow)]
    if not is_narrow:
        texts += [night.standing.part.name, f"{night.sent:,} frames"]
    text = ", ".join(texts)
    room = columns - len(text) - 3
    if room < BAR_LEAST:
        return text[:columns]
    width = min(BAR_MOST, room)
    filled = int(share * width)
    return f"[{FILLED * filled}{EMPTY * (width - filled)}] {text}"


def _wrong(night: Night, *, is_narrow: bool) -> list[str]:
    wrong = night.episodes.open
    if not wrong:
        return []
    if is_narrow:
        return [f"{len(wrong)} WRONG"]
    more = f" +{len(wrong) - 1}" if len(wrong) > 1 else ""
    return [f"WRONG: {plain(wrong[0].kind.value)}{more}"]


def event_line(event: Event) -> str:
    """Return a line for something that has begun or happened."""
    return f"{_clock(event.began_at.unix_s)} {MARKS[event.severity]} {_title(event)}: {plain(event.words)}"


def over_line(event: Event) -> str:
    """Return a line for something that had begun and is over."""
    ended_at = event.ended_at or event.began_at
    return f"{_clock(ended_at.unix_s)}   over: {_title(event)}, after {in_words(event.length_s or 0.0)}"


def _title(event: Event) -> str:
    return f"{event.kind.value} {plain(event.subject)}".rstrip()


def _clock(unix_s: float) -> str:
    return datetime.fromtimestamp(unix_s).astimezone().strftime("%H:%M:%S")
