"""What the README says of `ropewalk hear --json` is what it prints."""

import re
from pathlib import Path

from streamer.hear.messages import Heard, Life, SocketHeard, SourceHeard, Standing, UniverseHeard

README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")


def test_every_key_of_the_json_is_documented_in_its_order():
    """And no other."""
    (row,) = (line for line in README.splitlines() if line.startswith("| `hear` |"))
    written = re.findall(r"`([a-z0-9_ ]+)`", row)[1:]
    heard = [name for name in Heard.model_fields if name != "kind"]
    at = heard.index("universes") + 1
    source = [*SourceHeard.model_fields]
    standing, life = source.index("standing") + 1, source.index("life") + 1
    wanted = [
        *(*heard[:at], *UniverseHeard.model_fields, *heard[at:], "sources"),
        *(*source[:standing], *Standing, *source[standing:life], *Life, *source[life:]),
        *("sockets", *SocketHeard.model_fields),
    ]
    assert written == wanted
