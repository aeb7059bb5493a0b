"""For whatever holds something of the system's, until it is closed: its use in `with`."""

from abc import ABC, abstractmethod
from types import TracebackType
from typing import Self


class Closes(ABC):
    """Is closed at the end of a `with`, however that is left."""

    __slots__ = ()

    @abstractmethod
    def close(self) -> None:
        """Give back what is held; calling it again does nothing."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
