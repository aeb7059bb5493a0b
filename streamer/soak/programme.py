"""What a night run shows, and when: parts made to find weak spots, round after round; pure.

No part goes against the flash guard: looks stay for seconds, and what moves is a pattern of its own pace.
"""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

from patterns.plain import Value
from patterns.registry import get, settle
from streamer.display.places import plain
from streamer.engine.messages import Show
from streamer.errors import PlanError, Problem
from streamer.soak.durations import in_words, parse_duration

ALL_LEVEL_PERCENT = 100
PARTS_MOST = 50
"""Of a programme that somebody has written."""


@dataclass(frozen=True, slots=True)
class Look:
    """One picture of a part."""

    pattern: str
    params: Mapping[str, Value]

    def show(self, level_percent: float, rate_hz: float) -> Show:
        """Return it as the engine takes it."""
        params = settle(get(self.pattern), self.params)
        return Show(pattern=self.pattern, params=params, level_percent=level_percent, rate_hz=rate_hz)


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a programme: its looks one after another, each for `look_s`, over and over."""

    name: str
    words: str
    """What it is for."""
    seconds: float
    """How long it lasts unless something else is asked."""
    looks: tuple[Look, ...]
    look_s: float = float("inf")


def _steady(colour: str, value: int = 255) -> Look:
    return Look("level", {"colour": colour, "value": value})


FULL_PART = "full"
FULL, DARK = _steady("white"), _steady("white", 0)
PARTS = (
    Part(FULL_PART, "all lights full: heats supplies, leads and joints", 240, (FULL,)),
    Part(
        "surge",
        "all full and all dark in turn: supplies and joints under a changing load",
        60,
        (FULL, DARK),
        5,
    ),
    Part(
        "primaries",
        "red, green and blue in turn: one colour's current at a time",
        90,
        (_steady("red"), _steady("green"), _steady("blue")),
        10,
    ),
    Part("data", "values without order, changing fast: marginal data lines", 120, (Look("weave", {}),)),
    Part("ramp", "a slow swell from dark to full: every value, every current", 60, (Look("ramp", {}),)),
    Part("fixtures", "each channel of each fixture", 60, (Look("fixtures", {}),)),
    Part("dark", "all dark: what is lit now should not be; supplies without load", 30, (DARK,)),
)
BY_NAME = {part.name: part for part in PARTS}
USUAL = ("full", "surge", "primaries", "data", "ramp", "dark")
"""Ten minutes; with fixtures, eleven."""


@dataclass(frozen=True, slots=True)
class Standing:
    """Where in a programme a moment is."""

    index: int
    """Of the part, from 0."""
    part: Part
    look: Look
    round: int
    """From 0."""
    left_s: float
    """Until the next part."""


@dataclass(frozen=True, slots=True)
class Programme:
    """Parts, each with how long it lasts, over and over."""

    parts: tuple[tuple[Part, float], ...]

    @property
    def round_s(self) -> float:
        """How long once through it takes."""
        return sum(seconds for _, seconds in self.parts)

    @property
    def words(self) -> str:
        """As it may be asked for: "full:4m,dark:30s"."""
        return ",".join(f"{part.name}:{_written(seconds)}" for part, seconds in self.parts)

    @property
    def steps(self) -> tuple[str, ...]:
        """Each part in words, in order."""
        return tuple(f"{part.name}, {in_words(seconds)}: {part.words}" for part, seconds in self.parts)

    def at(self, run_s: float) -> Standing:
        """Return what is up so long after the beginning."""
        number, within_s = divmod(max(0.0, run_s), self.round_s)
        ends_s = tuple(accumulate(seconds for _, seconds in self.parts))
        index = min(bisect_right(ends_s, within_s), len(ends_s) - 1)
        part, seconds = self.parts[index]
        since_s = within_s - (ends_s[index] - seconds)
        look = part.looks[int(since_s // part.look_s) % len(part.looks)]
        return Standing(index, part, look, int(number), ends_s[index] - within_s)


def usual_programme(*, has_fixtures: bool) -> Programme:
    """Return what is shown unless something else is asked."""
    names = (*USUAL[:-1], "fixtures", USUAL[-1]) if has_fixtures else USUAL
    return Programme(tuple((BY_NAME[name], BY_NAME[name].seconds) for name in names))


def parse_programme(text: str, place: str) -> Programme:
    """Return the programme of "full:4m,data,dark:30s"; PlanError, about `place`, with all that is wrong."""
    problems: list[Problem] = []
    written = [each.strip() for each in text.split(",")]
    parts = tuple(_asked(each, place, problems) for each in written[:PARTS_MOST])
    if len(written) > PARTS_MOST:
        problems.append(Problem(place, f"it has {len(written)} parts", f"Write at most {PARTS_MOST}"))
    if problems:
        raise PlanError(problems)
    return Programme(parts)


def not_heated(words: str, level_percent: float) -> str:
    """Return why a programme, in words, heats supplies and joints less than a full show; else ""."""
    if level_percent < ALL_LEVEL_PERCENT:
        return f"the level is {level_percent:g} %"
    names = {part.partition(":")[0].strip() for part in words.split(",")}
    return "" if FULL_PART in names else f"the programme has no part {FULL_PART!r}"


def how_to_heat(supplies: Sequence[str]) -> str:
    """Return how to ask for that, with these supplies in the display file."""
    if supplies:
        return (
            "ask for --level 100: fuses and supplies in the display file stay under their limits all the same"
        )
    return (
        "ask for --level 100, but first write supplies and fuses into the display file: what it does not "
        "name is held under no limit"
    )


def _asked(text: str, place: str, problems: list[Problem]) -> tuple[Part, float]:
    name, sign, duration = text.partition(":")
    part = BY_NAME.get(name.strip().lower())
    if part is None:
        what, instead = f"there is no part {plain(name[:40])!r}", f"The parts are {', '.join(BY_NAME)}"
        problems.append(Problem(place, what, instead))
    seconds = 1.0
    if sign:
        try:
            seconds = parse_duration(duration, place)
        except PlanError as error:
            problems += error.problems
    elif part:
        seconds = part.seconds
    return part or PARTS[0], seconds


def _written(seconds: float) -> str:
    whole = int(seconds)
    return f"{whole // 60}m" if whole % 60 == 0 else f"{whole}s"
