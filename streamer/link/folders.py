"""The two folders of this user's own: one for running processes, one for what is kept between runs."""

import os
import stat
import sys
import tempfile
from pathlib import Path

import platformdirs

from streamer.errors import LinkError

RUNTIME_VARIABLE = "ROPEWALK_RUNTIME_DIR"
CONFIG_VARIABLE = "ROPEWALK_CONFIG_DIR"
USER_ONLY = 0o700


def runtime_folder() -> Path:
    """Return the folder of sockets and shared frames, made if need be and closed to others.

    LinkError if it cannot be had, or belongs to somebody else.
    """
    return _own(os.environ.get(RUNTIME_VARIABLE) or _usual_runtime_folder(), RUNTIME_VARIABLE)


def config_folder() -> Path:
    """Return the folder of settings kept between runs, made if need be and closed to others.

    LinkError if it cannot be had, or belongs to somebody else.
    """
    return _own(os.environ.get(CONFIG_VARIABLE) or platformdirs.user_config_path("ropewalk"), CONFIG_VARIABLE)


def _usual_runtime_folder() -> Path:
    """Return the system's folder for sockets; a login without one (ssh, su) gets one of its own beside it."""
    if sys.platform != "linux" or os.environ.get("XDG_RUNTIME_DIR"):
        return platformdirs.user_runtime_path("ropewalk")
    return Path(tempfile.gettempdir()) / f"ropewalk-{os.getuid()}"


def _own(where: str | Path, variable: str) -> Path:
    folder = Path(where)
    try:
        folder.mkdir(mode=USER_ONLY, parents=True, exist_ok=True)
        status = folder.lstat()
        if hasattr(os, "getuid") and status.st_uid != os.getuid():
            raise LinkError(f"{folder}: belongs to another user. Set {variable} to a folder of your own.")
        if stat.S_IMODE(status.st_mode) & ~USER_ONLY:
            folder.chmod(USER_ONLY)
    except OSError as error:
        raise LinkError(
            f"{folder}: cannot be used ({error.strerror}). Set {variable} to a folder of your own."
        ) from error
    return folder
