"""Refuses to send where another run of this user sends already."""

from streamer.engine.messages import Setup
from streamer.engine.rivals import rival_words, rivals
from streamer.errors import LinkError


def check_rivals(setup: Setup, pattern: str) -> None:
    """Raise LinkError when another run sends to the same place."""
    for name, key in rivals(setup, pattern):
        raise LinkError(f"{rival_words(name, key)}. Or say --anyway.")
