"""One end of a local socket that carries typed messages, a JSON line each. Never blocks.

What comes in is checked against the message types before anybody sees it; what goes out waits in a
bounded buffer, so a reader that stands still costs itself the connection, never the sender its time.
"""

import socket
from collections.abc import Sequence
from typing import Generic, Protocol, TypeVar

from pydantic import BaseModel, TypeAdapter, ValidationError

from streamer.errors import LinkError

Incoming = TypeVar("Incoming", bound=BaseModel)
Reports = TypeVar("Reports", bound=BaseModel)

LINE_LIMIT_OCTETS = 16 * 2**20
"""A display of 200,000 nodes in segments of one is 11 MB as JSON; a longer line is not ours."""
WAITING_LIMIT_OCTETS = 2 * LINE_LIMIT_OCTETS
"""Two displays on their way to a reader that is slow, not gone."""
READ_OCTETS = 2**18
FAULTS_SHOWN = 3


class Link(Protocol[Reports]):
    """What a client needs of one of our processes that sends it `Reports`; a test may stand in for it."""

    is_open: bool
    name: str
    """Of the process at the other end; "" where nobody said it."""

    def send(self, message: BaseModel, /) -> None:
        """Send one of the requests that the process takes."""

    def receive(self) -> list[Reports]:
        """Return the reports that have arrived, without waiting."""

    def give_back(self, reports: Sequence[Reports], /) -> None:
        """Have the next `receive` return these first: whoever waits for one loses nobody else's."""

    @property
    def is_waiting(self) -> bool:
        """Whether something could not be sent yet."""

    def flush(self) -> None:
        """Send on what could not be sent at once; call it when the descriptor takes more, or now and then."""

    def fileno(self) -> int:
        """Return the descriptor to wait on."""

    def close(self) -> None:
        """Detach; what that means for the process is its own business."""


class Channel(Generic[Incoming]):
    """A connected socket on which `Incoming` messages arrive and any message may be sent."""

    def __init__(self, connected: socket.socket, incoming: TypeAdapter[Incoming], name: str = "") -> None:
        self.name = name
        connected.setblocking(False)
        self._socket = connected
        self._incoming = incoming
        self._read = bytearray()
        self._waiting = bytearray()
        self._given_back: list[Incoming] = []
        self.is_open = True

    def fileno(self) -> int:
        """Return the descriptor to wait on for reading; -1 once closed."""
        return self._socket.fileno()

    @property
    def is_waiting(self) -> bool:
        """Whether something could not be sent yet; call `flush` when the socket takes more."""
        return bool(self._waiting)

    def send(self, message: BaseModel) -> None:
        """Send a message, or keep it until the other end reads; a standing reader is cut off."""
        if not self.is_open:
            return
        self._waiting += message.model_dump_json().encode() + b"\n"
        self.flush()
        if len(self._waiting) > WAITING_LIMIT_OCTETS:
            self.close()

    def flush(self) -> None:
        """Send what is waiting, as far as the other end takes it now."""
        try:
            while self._waiting:
                taken = self._socket.send(self._waiting)
                del self._waiting[:taken]
        except BlockingIOError:
            return
        except OSError:
            self._waiting.clear()
            # What the other end said before it went may still be read: `receive` finds the end.

    def receive(self, most_octets: int = LINE_LIMIT_OCTETS) -> list[Incoming]:
        """Return the messages that have arrived; LinkError (and closed) for anything that is not one.

        Reads `most_octets` at the most and leaves the rest for the next call, so that a flood cannot
        hold the caller up. An empty list with `is_open` false means that the other end has gone.
        """
        messages, self._given_back = self._given_back, []
        while self.is_open and most_octets > 0 and (piece := self._piece(min(most_octets, READ_OCTETS))):
            most_octets -= len(piece)
            first, *others = piece.split(b"\n")
            self._read += first
            for other in others:
                messages.append(self._message(self._read))
                self._read = bytearray(other)
            if len(self._read) > LINE_LIMIT_OCTETS:
                self.close()
                raise LinkError("The other end sent a message without an end. The connection is closed.")
        return messages

    def give_back(self, messages: Sequence[Incoming]) -> None:
        """Have the next `receive` return these first, in this order."""
        self._given_back = [*messages, *self._given_back]

    def _piece(self, octets: int) -> bytes:
        try:
            piece = self._socket.recv(octets)
        except BlockingIOError:
            return b""
        except OSError:
            piece = b""
        if not piece:
            self.close()
        return piece

    def _message(self, line: bytearray) -> Incoming:
        try:
            return self._incoming.validate_json(line)
        except ValidationError as error:
            self.close()
            # Written out, each fault takes a few hundred octets, and a long line can hold millions.
            words = f": {error}" if error.error_count() <= FAULTS_SHOWN else ""
            raise LinkError(f"The other end does not speak our messages{words}") from error

    def close(self) -> None:
        """Close the socket; what was waiting is dropped."""
        if self.is_open:
            self.is_open = False
            self._socket.close()
