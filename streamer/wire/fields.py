"""Checks and text fields that the packets of both protocols share. It knows no packet."""

from streamer.errors import FieldError, PacketError

Datagram = bytes | bytearray | memoryview

OCTET_MAX = 0xFF
WORD_MAX = 0xFFFF

REPLACEMENT = "\N{REPLACEMENT CHARACTER}"
"""Stands for what cannot be read or must not reach a terminal."""


def check_range(field: str, value: int, low: int, high: int) -> None:
    """Raise FieldError unless low <= value <= high."""
    if not low <= value <= high:
        raise FieldError(field, value, f"{low} to {high}")


def expect(field: str, octet: int, got: object, wanted: object) -> None:
    """Raise PacketError unless a received field holds the one value that its standard gives it."""
    if got != wanted:
        raise PacketError(field, octet, f"is {_shown(got)}, must be {_shown(wanted)}")


def expect_range(field: str, octet: int, got: int, low: int, high: int) -> None:
    """Raise PacketError unless a received field lies in low <= got <= high."""
    if not low <= got <= high:
        raise PacketError(field, octet, f"is {got}, must be {low} to {high}")


def expect_size(datagram: Datagram, least_octets: int) -> None:
    """Raise PacketError for a datagram that ends before its fixed fields do."""
    if len(datagram) < least_octets:
        raise PacketError("packet", len(datagram), f"ends here, must have at least {least_octets} octets")


def text_octets(field: str, text: str, size_octets: int, encoding: str) -> bytes:
    """Return a text field's octets without padding: printable text and room for one zero, or FieldError."""
    allowed = f"printable {encoding} text of at most {size_octets - 1} octets"
    try:
        octets = text.encode(encoding)
    except UnicodeEncodeError:
        raise FieldError(field, text, allowed) from None
    if not text.isprintable() or len(octets) >= size_octets:
        raise FieldError(field, text, allowed)
    return octets


def read_text(octets: bytes) -> str:
    """Return a received text field up to its first zero octet, as text that is safe to show.

    Octets that are not UTF-8 and characters that are not printable become U+FFFD: a name that is
    badly written is no reason to lose the levels beside it, and must not steer a terminal.
    """
    text = octets.partition(b"\0")[0].decode("utf-8", errors="replace")
    if text.isprintable():
        return text
    return "".join(character if character.isprintable() else REPLACEMENT for character in text)


def _shown(value: object) -> str:
    return f"{value:#x}" if isinstance(value, int) else repr(value)
