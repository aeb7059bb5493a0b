"""Who this installation is on the network: its CID, made once and kept.

ANSI E1.31-2018 clause 5.6: one component keeps one CID for life; receivers tell sources apart by it.
"""

import contextlib
import os
from pathlib import Path
from types import ModuleType
from uuid import UUID, uuid4

from streamer.errors import LinkError

fcntl: ModuleType | None
try:
    import fcntl
except ImportError:  # Windows has no such lock: the engines there share the CID
    fcntl = None

USER_ONLY = 0o600


class Identity:
    """The CID of one running engine; LinkError when the file in `folder` is not one.

    The kept CID can be spoken by one engine at a time: two would contradict each other's sequence numbers
    and lists of universes. A second engine takes one made for this run, as clause 5.6 allows components
    made on the fly. The claim ends with `close`, or with the process.
    """

    def __init__(self, folder: Path) -> None:
        kept = component_id(folder)
        self._claim = os.open(folder / "cid", os.O_RDONLY)
        self.is_kept = _claims(self._claim)
        self.cid = kept if self.is_kept else uuid4()

    def close(self) -> None:
        """Let another engine have the kept CID."""
        os.close(self._claim)


def _claims(descriptor: int) -> bool:
    if fcntl is None:
        return True
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def component_id(folder: Path) -> UUID:
    """Return the CID kept in `folder`, made at the first call; LinkError when the file is not one."""
    path = folder / "cid"
    if not path.exists():
        try:
            _make(path)
        except OSError as error:
            raise LinkError(f"{path}: cannot be written ({error.strerror}).") from error
    return _read(path)


def _make(path: Path) -> None:
    """Write the file whole or not at all: of two processes that start at once, both read the first one's."""
    # Random UUIDs (RFC 9562, version 4) need no registration.
    made = uuid4()
    draft = path.with_name(f"{path.name}.{made}")
    draft.touch(mode=USER_ONLY)
    try:
        draft.write_text(f"{made}\n", encoding="ascii")
        with contextlib.suppress(FileExistsError):
            os.link(draft, path)
    finally:
        draft.unlink()


def _read(path: Path) -> UUID:
    try:
        return UUID(path.read_text(encoding="ascii").strip())
    except (OSError, ValueError) as error:
        raise LinkError(f"{path}: holds no CID ({error}). Remove it, and a new one is made.") from error
