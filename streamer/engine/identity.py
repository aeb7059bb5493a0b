"""Who this installation is on the network: its CID, made once and kept.

ANSI E1.31-2018 clause 5.6: one component keeps one CID for life; receivers tell sources apart by it.
"""

import os
from pathlib import Path
from uuid import UUID, uuid4

from streamer.errors import LinkError

USER_ONLY = 0o600


def component_id(folder: Path) -> UUID:
    """Return the CID kept in `folder`, made at the first call; LinkError when the file is not one."""
    path = folder / "cid"
    try:
        descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, USER_ONLY)
    except FileExistsError:
        return _read(path)
    except OSError as error:
        raise LinkError(f"{path}: cannot be written ({error.strerror}).") from error
    # Random UUIDs (RFC 9562, version 4) need no registration.
    made = uuid4()
    with os.fdopen(descriptor, "w") as file:
        file.write(f"{made}\n")
    return made


def _read(path: Path) -> UUID:
    try:
        return UUID(path.read_text(encoding="ascii").strip())
    except (OSError, ValueError) as error:
        raise LinkError(f"{path}: holds no CID ({error}). Remove it, and a new one is made.") from error
