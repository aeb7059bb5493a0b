"""The option by which lights flash fewer times in a second; the list of commands loads it, so it is plain."""

from typing import Any

import click

from streamer.cli.numbers import Whole
from streamer.flash_rule import DANGER, FLASHES_PER_S


class FewerFlashes(Whole):
    """1 to 3; asked for more it says why not."""

    def __init__(self) -> None:
        super().__init__(1)

    def _describe_range(self) -> str:
        return f"from 1 to {FLASHES_PER_S}"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:  # noqa: ANN401
        """Return the number."""
        number = super().convert(value, param, ctx)
        if number > FLASHES_PER_S:
            self.fail(
                f"{number} are too many: {DANGER}. Ask for 1 to {FLASHES_PER_S}; only ropewalk send can be "
                "asked for more, with a word.",
                param,
                ctx,
            )
        return number


fewer_flashes = click.option(
    "--flashes",
    type=FewerFlashes(),
    metavar="1..3",
    help=f"At most so many flashes in any second.  [the file's, or {FLASHES_PER_S}]",
)
