"""What a yard remembers about packets that belong to nobody, so that none is lost silently. Bounded."""

from dataclasses import dataclass

NOTE_S = 5.0
"""How long a note stands after the last packet that caused it."""
NOTES_MAX = 64
"""Distinct causes remembered; a hostile network could send as many as it likes."""


@dataclass(slots=True)
class _Note:
    words: str
    count: int
    last_s: float


class Notes:
    """Distinct complaints with the time when each was last caused."""

    def __init__(self) -> None:
        self.count = 0
        """Packets that caused a note, ever."""
        self._notes: dict[object, _Note] = {}

    def add(self, cause: object, words: str, now: float) -> None:
        """Note a packet: `words` say what is wrong; those of the newest packet of a `cause` stand."""
        self.count += 1
        before = self._notes.pop(cause, None)
        self._notes[cause] = _Note(words, before.count + 1 if before else 1, now)
        if len(self._notes) > NOTES_MAX:
            del self._notes[next(iter(self._notes))]

    def text(self, now: float) -> str:
        """Return the newest note that still stands and how many others do; empty when none does."""
        standing = [note for note in self._notes.values() if now - note.last_s < NOTE_S]
        if not standing:
            return ""
        newest = standing[-1]
        times = f" ({newest.count} packets)" if newest.count > 1 else ""
        others = f"; {len(standing) - 1} more like this" if len(standing) > 1 else ""
        return f"{newest.words}{times}{others}"
