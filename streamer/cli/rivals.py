"""Refuses to send where another run of this user sends already."""

from streamer.cli.common import ANYWAY
from streamer.engine.messages import Setup
from streamer.engine.rivals import rival_words, rivals
from streamer.errors import RivalError


def check_rivals(setup: Setup, pattern: str, own: str = "") -> None:
    """Raise RivalError when another run than `own` sends to the same place."""
    for rival in rivals(setup, pattern, own):
        raise RivalError(f"{rival_words(rival)}{ANYWAY}")
