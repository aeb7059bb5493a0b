"""Speaks to whoever listens, and waits for nobody: a terminal that is held (Ctrl-S) must hold up no run."""

import os
import queue
import sys
import threading

WAITING_MOST = 200
"""Pieces that a standing reader may be behind; what comes on top of that is dropped."""
LAST_WORDS_S = 1.0
STANDARD_OUTPUT = 1


class Speaker:
    """Writes to standard output from a thread of its own; a reader that has gone is forgotten."""

    def __init__(self, descriptor: int = STANDARD_OUTPUT) -> None:
        self._descriptor = descriptor
        self._encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
        self._pieces: queue.Queue[bytes | None] = queue.Queue(WAITING_MOST)
        # A daemon: a write that is never taken must not hold up the end of the process either.
        self._thread = threading.Thread(target=self._write, name="speaker", daemon=True)
        self._thread.start()

    def say(self, text: str) -> None:
        """Have it written, unless too much waits already."""
        try:
            self._pieces.put_nowait(text.encode(self._encoding, "replace"))
        except queue.Full:
            return

    def close(self) -> None:
        """Let what waits be written, for a moment at the most."""
        try:
            self._pieces.put_nowait(None)
        except queue.Full:
            return
        self._thread.join(LAST_WORDS_S)

    def _write(self) -> None:
        while (piece := self._pieces.get()) is not None:
            try:
                while piece:
                    piece = piece[os.write(self._descriptor, piece) :]
            except OSError:
                # The terminal or the pipe has closed: whoever wants to know reads the journal.
                continue
