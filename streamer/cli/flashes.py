"""How often lights may flash, for the commands that may raise it with a word; and in a sentence."""

import click

from streamer.cli.numbers import Whole
from streamer.engine.flash_limit import WORD, flash_limit
from streamer.engine.messages import FLASHES_MOST_PER_S, WORD_CHARACTERS, Setup
from streamer.flash_rule import DANGER, FLASHES_PER_S

any_flashes = click.option(
    "--flashes",
    type=Whole(1, FLASHES_MOST_PER_S),
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
