"""Whether another run of this user is in the way of the lights, in words that one can answer."""

from streamer.engine.messages import Setup

ALL_THE_SAME = "Enter sends all the same: what the lights show then, no answer can rest on."


def in_the_way(setup: Setup, pattern: str, own: str) -> tuple[str, str]:
    """Return the name of another run that sends to the same place, and what to ask; "" where there is none.

    `own` is the engine of this screen. It may take seconds, and loads much: call it off the event loop.
    """
    from streamer.engine.rivals import rival_words, rivals

    for rival in rivals(setup, pattern, own):
        return rival.name, f"{rival_words(rival)}\n\n{ALL_THE_SAME}"
    return "", ""
