"""A robot operator: it looks only at what the yard's lights show, for a while, and answers as a person would.

It knows the question and where the plan has light 1, but nothing of hypotheses or of what was sent.
"""

from collections.abc import Sequence

from patterns.plain import Bytes
from streamer.find.answers import NO, YES, Answer
from streamer.find.questions import Asks

A = Answer
TRUE = {(1, 0, 0): A.RED, (1, 1, 0): A.YELLOW, (0, 1, 0): A.GREEN, (0, 1, 1): A.CYAN, (0, 0, 1): A.BLUE,
        (1, 0, 1): A.MAGENTA, (1, 1, 1): A.WHITE}  # fmt: skip
CONFUSED = {
    "six": {},
    "three": {A.RED: A.YELLOW, A.GREEN: A.YELLOW, A.MAGENTA: A.BLUE, A.CYAN: A.WHITE},
    "lit": dict.fromkeys(TRUE.values(), A.WHITE),
}
Sight = list[Answer]


def seen(samples: Sequence[Bytes], eyes: str) -> Sight:
    """Return what is seen of each light that hangs there, over several moments."""
    moments = [[_colour(node, eyes) for node in sample.tolist()] for sample in samples]
    return [lights[0] if len(set(lights)) == 1 else A.UNSTEADY for lights in zip(*moments, strict=True)]


def colours_under_flicker(samples: Sequence[Bytes], eyes: str) -> Sight:
    """Return the colour that each light has while it is lit."""
    moments = [[_colour(node, eyes) for node in sample.tolist()] for sample in samples]
    return [
        next((each for each in lights if each is not A.NONE), A.NONE) for lights in zip(*moments, strict=True)
    ]


def _colour(node: Sequence[int], eyes: str) -> Answer:
    red, green, blue, white = node
    if white:
        return A.WHITE
    true = TRUE.get((int(red > 0), int(green > 0), int(blue > 0)), A.NONE)
    return CONFUSED[eyes].get(true, true)


def answer(  # noqa: C901, PLR0911, PLR0913  one short rule for each question
    asks: Asks,
    samples: Sequence[Bytes],
    eyes: str,
    *,
    fed_at_end: bool,
    sent: frozenset[Answer] = frozenset(),
    beside: Sequence[Bytes] = (),
    expected: Sequence[int] = (),
) -> Answer:
    """Return the truthful answer to a question. `sent` are the colours that were announced."""
    lights = seen(samples, eyes)
    lit = [place for place, light in enumerate(lights) if light is not A.NONE]
    match asks:
        case Asks.MATCH:
            hung = list(expected[: len(lights)])
            return (
                YES
                if [int(each) for each in lights] == hung
                and not any(each != A.NONE for each in expected[len(lights) :])
                else NO
            )
        case Asks.HEAD:
            return lights[0]
        case Asks.TAIL:
            return lights[-1]
        case Asks.WITNESS:
            there = [light for light in seen(beside, eyes) if light is not A.NONE]
            return there[0] if there else A.NONE
        case _ if not lit:
            return A.NONE
        case Asks.FIRST:
            return lights[lit[0]]
        case Asks.LAST:
            return lights[lit[-1]]
        case Asks.REST:
            beyond = lit[0] if fed_at_end else len(lights) - 1 - lit[-1]
            return YES if beyond > 0 else NO
        case Asks.FLICKER:
            unsteady = [place for place in lit if lights[place] is A.UNSTEADY]
            at = (unsteady[-1] if fed_at_end else unsteady[0]) if unsteady else None
            return A.NONE if at is None else colours_under_flicker(samples, eyes)[at]
        case Asks.BESIDE:
            return _beside(lights, lit, sent)
    raise AssertionError(asks)


def _beside(lights: Sight, lit: Sequence[int], sent: frozenset[Answer]) -> Answer:
    span = lights[lit[0] : lit[-1] + 1]
    if A.UNSTEADY in span:
        return A.UNSTEADY
    odd = [place for place in range(len(span)) if _stands_out(span, place, sent)]
    if len(odd) != 1:
        return A.UNSTEADY if odd else A.NONE
    return span[odd[0] - 1] if odd[0] else span[1]


def _stands_out(span: Sight, place: int, sent: frozenset[Answer]) -> bool:
    """Say whether a light is like none beside it, and those are alike or nobody was sent its colour."""
    beside = {span[each] for each in (place - 1, place + 1) if 0 <= each < len(span)}
    if not beside or span[place] in beside:
        return False
    return len(beside) == 1 or span[place] not in sent
