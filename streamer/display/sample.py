"""The display of the demo: a boathouse by a lake, of our own invention, on this machine's loopback."""

from importlib import resources

from streamer.display.file import parse
from streamer.display.model import Display

SAMPLE_NAME = "sample.toml"


def sample_display() -> Display:
    """Return the sample display."""
    text = resources.files("streamer.display").joinpath(SAMPLE_NAME).read_text("utf-8")
    return parse(text, SAMPLE_NAME)
