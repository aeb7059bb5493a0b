"""One end of a local socket that carries typed messages, a JSON line each. Never blocks.

What comes in is checked against the message types before anybody sees it; what goes out waits in a
bounded buffer, so a reader that stands still costs itself the connection, never the sender its time.
"""

import socket
from typing import Generic, TypeVar

from pydantic import BaseModel, TypeAdapter, ValidationError

from streamer.errors import LinkError

Incoming = TypeVar("Incoming", bound=BaseModel)

LINE_LIMIT_OCTETS = 16 * 2**20
"""A display of 200,000 nodes in short segments is about 10 MB as JSON; a longer line is not ours."""
WAITING_LIMIT_OCTETS = 64 * 2**20
READ_OCTETS = 2**18


class Channel(Generic[Incoming]):
    """A connected socket on which `Incoming` messages arrive and any message may be sent."""

    def __init__(self, connected: socket.socket, incoming: TypeAdapter[Incoming]) -> None:
        connected.setblocking(False)
        self._socket = connected
        self._incoming = incoming
        self._read = bytearray()
        self._waiting = bytearray()
        self.is_open = True

    def fileno(self) -> int:
        """Return the descriptor to wait on for reading."""
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
            self.close()

    def receive(self) -> list[Incoming]:
        """Return the messages that have arrived; LinkError (and closed) for anything that is not one.

        An empty list with `is_open` false means that the other end has gone.
        """
        self._fill()
        *lines, rest = self._read.split(b"\n")
        self._read = rest
        if len(rest) > LINE_LIMIT_OCTETS:
            self.close()
            raise LinkError("The other end sent a message without an end. The connection is closed.")
        try:
            return [self._incoming.validate_json(line) for line in lines]
        except ValidationError as error:
            self.close()
            raise LinkError(f"The other end does not speak our messages: {error}") from error

    def _fill(self) -> None:
        try:
            while self.is_open and len(self._read) <= LINE_LIMIT_OCTETS:
                piece = self._socket.recv(READ_OCTETS)
                if not piece:
                    self.close()
                self._read += piece
        except BlockingIOError:
            return
        except OSError:
            self.close()

    def close(self) -> None:
        """Close the socket; what was waiting is dropped."""
        if self.is_open:
            self.is_open = False
            self._socket.close()
