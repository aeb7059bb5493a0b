"""Who this installation is on the network: its CID, made once and kept.

ANSI E1.31-2018 clause 5.6: one component keeps one CID for life; receivers tell sources apart by it.
"""

import contextlib
import os
from pathlib import Path
from uuid import UUID, uuid4

from streamer.errors import LinkError

USER_ONLY = 0o600


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
