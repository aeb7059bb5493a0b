"""Looks at a shared newest frame, whichever file it is in just now."""

from pathlib import Path
from typing import TYPE_CHECKING

from streamer.errors import LinkError

if TYPE_CHECKING:
    from patterns.plain import Frame
    from streamer.link.newest import NewestFrame


class Sight:
    """One shared frame, opened when first looked at and again when its path changes."""

    def __init__(self) -> None:
        self._path = ""
        self._shared: NewestFrame | None = None
        self.trouble = ""
        """Why there is nothing to see; empty while there is."""

    def look(self, path: str) -> "Frame | None":
        """Return the newest frame, or None while there is none."""
        try:
            if path != self._path or self._shared is None:
                self._path, self._shared = path, self._open(path)
            number, frame = self._shared.look()
        except LinkError as error:
            self._shared, self.trouble = None, str(error)
            return None
        self.trouble = ""
        return frame if number else None

    @staticmethod
    def _open(path: str) -> "NewestFrame":
        # Loads NumPy, which the first paint need not wait for.
        from streamer.link.newest import NewestFrame

        return NewestFrame.open(Path(path))
