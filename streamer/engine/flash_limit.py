"""How many flashes a second a run may have: fewer at will, more only for a word that a person types in full.

The engine asks here for every run, whoever its client is.
"""

from streamer.engine.messages import Setup
from streamer.errors import PlanError, Problem
from streamer.flash_rule import DANGER, FLASHES_PER_S

WORD = "seizures"
"""What more than three flashes in a second can bring on."""


def flash_limit(setup: Setup) -> int:
    """Return the most flashes in any second; PlanError for more than three without the word.

    Without it the lower of what was asked and what the display says holds; with it, what was asked.
    """
    asked = setup.flashes_per_s
    if asked is None:
        return setup.display.flashes_per_s
    if setup.understood == WORD:
        return asked
    if asked > FLASHES_PER_S:
        instead = (
            f"Ask for {FLASHES_PER_S} at most; or, where nobody can be hurt, for {asked} on the command line "
            f"of ropewalk send with --understood and the word {WORD}, typed in full"
        )
        raise PlanError([Problem("flashes a second", f"{asked} are asked for, but {DANGER}", instead)])
    return min(asked, setup.display.flashes_per_s)


def without_word(setup: Setup) -> Setup:
    """Return the setup as others are told it: the word holds for the run it was typed for, and no other."""
    if not setup.understood:
        return setup
    asked = setup.flashes_per_s
    lowered = None if asked is None else min(asked, FLASHES_PER_S)
    return setup.model_copy(update={"flashes_per_s": lowered, "understood": ""})


def calmed(setup: Setup, flashes_per_s: int) -> Setup:
    """Return the setup with so many flashes asked for, and no word."""
    return setup.model_copy(update={"flashes_per_s": flashes_per_s, "understood": ""})
