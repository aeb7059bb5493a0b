"""What a person can answer, and what their eyes tell apart."""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from patterns.plain import COMPONENTS, Bytes

CODES = 2**COMPONENTS
"""A light's code has a bit for each of its lights that is on: red 1, green 2, blue 4, white 8."""


class Answer(IntEnum):
    """The key that is pressed: colours have the same key in every look."""

    CANT_TELL = 0
    RED = 1
    YELLOW = 2
    GREEN = 3
    CYAN = 4
    BLUE = 5
    MAGENTA = 6
    WHITE = 7
    NONE = 8
    """Nothing is lit, or no light is as asked."""
    UNSTEADY = 9
    """It flickers; or, of lights that stand out, there are several."""


YES, NO = Answer.RED, Answer.YELLOW
"""Of questions with only two answers: keys 1 and 2."""
ANSWERS = len(Answer)

DARK_CODE, RED_CODE, GREEN_CODE, BLUE_CODE, WHITE_CODE = 0, 1, 2, 4, 7
YELLOW_CODE, CYAN_CODE, MAGENTA_CODE, WHITE_LIGHT_CODE = 3, 6, 5, 8
"""White is red, green and blue together, as in every pattern; the white light of RGBW nodes is code 8."""

_TRUE_COLOURS = {
    RED_CODE: Answer.RED,
    YELLOW_CODE: Answer.YELLOW,
    GREEN_CODE: Answer.GREEN,
    CYAN_CODE: Answer.CYAN,
    BLUE_CODE: Answer.BLUE,
    MAGENTA_CODE: Answer.MAGENTA,
    WHITE_CODE: Answer.WHITE,
}
"""A white light beside others looks pale, and is called white (common practice, no source)."""


CODE_OF = {answer: code for code, answer in _TRUE_COLOURS.items()}
"""The code of each colour that can be answered."""


@dataclass(frozen=True, eq=False)
class Eyes:
    """Which colours somebody tells apart. `seen` gives the answer for each of the 16 codes."""

    name: str
    sentence: str
    seen: Bytes
    """(16,): an `Answer` for each code; NONE for dark."""
    blocks: tuple[int, ...]
    """Codes of light that are told apart, for blocks side by side."""
    words: dict[Answer, str]
    """What each colour that can be answered is called."""

    @property
    def in_colour(self) -> bool:
        """Whether any two colours are told apart."""
        return len(self.words) > 1

    def named(self, code: int) -> str:
        """Return what a light of this code is called."""
        return "dark" if code == DARK_CODE else self.words[Answer(int(self.seen[code]))]


def _eyes(
    name: str, sentence: str, alike: dict[Answer, Answer], blocks: tuple[int, ...], **words: str
) -> Eyes:
    seen = np.full(CODES, Answer.WHITE, np.uint8)
    seen[DARK_CODE] = Answer.NONE
    for code, colour in _TRUE_COLOURS.items():
        seen[code] = alike.get(colour, colour)
    seen[WHITE_LIGHT_CODE:] = seen[WHITE_CODE]
    seen.setflags(write=False)
    known = {Answer(int(seen[code])) for code in range(1, CODES)}
    return Eyes(
        name,
        sentence,
        seen,
        blocks,
        {each: words.get(each.name, each.name.lower()) for each in sorted(known)},
    )


SIX = _eyes(
    "six",
    "Six colours and white.",
    {},
    (RED_CODE, YELLOW_CODE, GREEN_CODE, CYAN_CODE, BLUE_CODE, MAGENTA_CODE),
)
THREE = _eyes(
    "three",
    "Yellow, blue and white: for eyes that take red for green.",
    {
        Answer.RED: Answer.YELLOW,
        Answer.GREEN: Answer.YELLOW,
        Answer.MAGENTA: Answer.BLUE,
        Answer.CYAN: Answer.WHITE,
    },
    (YELLOW_CODE, BLUE_CODE, WHITE_CODE),
    YELLOW="yellow (or red, or green)",
    BLUE="blue (or pink)",
    WHITE="white (or pale)",
)
"""Red-green colour blindness leaves yellow against blue, bright against pale (common practice, no source)."""
LIT = _eyes(
    "lit",
    "Lit or not: no colours at all.",
    dict.fromkeys(_TRUE_COLOURS.values(), Answer.WHITE),
    (WHITE_CODE,),
    WHITE="lit",
)

EYES = {eyes.name: eyes for eyes in (SIX, THREE, LIT)}
