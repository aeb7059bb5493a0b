"""How often lights may flash: fewer times by option everywhere, more by `send` alone and with a word."""

from collections.abc import Callable
from typing import Any

import click

from streamer.display.model import FLASHES_PER_S
from streamer.engine.flash_limit import DANGER, WORD, flash_limit
from streamer.engine.messages import FLASHES_MOST_PER_S, WORD_CHARACTERS, Setup

Command = Callable[..., Any]


class FewerFlashes(click.IntRange):
    """1 to 3; asked for more it says why not."""

    def __init__(self) -> None:
        super().__init__(1, FLASHES_PER_S)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:  # noqa: ANN401
        """Return the number."""
        number = click.INT.convert(value, param, ctx)
        if number > FLASHES_PER_S:
            self.fail(
                f"{number} are too many: {DANGER}. Ask for 1 to {FLASHES_PER_S}; only ropewalk send can be "
                "asked for more, with a word.",
                param,
                ctx,
            )
        return int(super().convert(number, param, ctx))


fewer_flashes = click.option(
    "--flashes",
    type=FewerFlashes(),
    metavar="1..3",
    help=f"At most so many flashes in any second.  [the file's, or {FLASHES_PER_S}]",
)
any_flashes = click.option(
    "--flashes",
    type=click.IntRange(1, FLASHES_MOST_PER_S),
    metavar="N",
    help=f"At most so many flashes in any second; more than {FLASHES_PER_S} need --understood.  "
    f"[the file's, or {FLASHES_PER_S}]",
)


def _word(_context: click.Context, _parameter: click.Parameter, value: str) -> str:
    """Return no more of what was typed than a setup holds: what is longer is not the word."""
    return value[:WORD_CHARACTERS]


understood = click.option(
    "--understood",
    metavar="WORD",
    default="",
    callback=_word,
    help=f"That {DANGER}: the word is {WORD}.",
)


def flashes_text(setup: Setup) -> str:
    """Return how often lights may flash, where that is not three times a second; else nothing."""
    limit = flash_limit(setup)
    if limit == FLASHES_PER_S:
        return ""
    times = "once" if limit == 1 else f"{limit} times"
    if limit < FLASHES_PER_S:
        return f"No light flashes more than {times} in any second."
    return f"Caution: lights may flash {times} in a second, and {DANGER}: nobody else may see them unwarned."
