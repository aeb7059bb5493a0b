"""The commented file that `ropewalk new FILE` writes, for a person to make their own."""

import os
from importlib import resources
from pathlib import Path
from tempfile import TemporaryDirectory

from streamer.display.places import plain
from streamer.errors import FileError, Problem


def starter_text() -> str:
    """Return the starter file: valid as it is, with every key of the format in it."""
    return resources.files("streamer.display").joinpath("starter.toml").read_text("utf-8")


def write_starter(path: Path) -> None:
    """Write the starter file whole or not at all, and never over another. Raises `FileError`."""
    write_new(path, starter_text())


def write_new(path: Path, text: str) -> None:
    """Write a display file whole or not at all, and never over another. Raises `FileError`."""
    name = plain(str(path))
    try:
        with TemporaryDirectory(dir=path.parent, prefix=".ropewalk-") as folder:
            draft = Path(folder) / "draft"
            draft.write_text(text, "utf-8")
            _publish(draft, path)
    except FileExistsError as error:
        what = "there is already a file of this name, and it is left as it is"
        raise FileError([Problem(name, what, "Give another name")]) from error
    except (OSError, ValueError) as error:
        what = f"the file cannot be written ({plain(getattr(error, 'strerror', None) or str(error))})"
        raise FileError([Problem(name, what, "Give a name in a folder that you may write to")]) from error


def _publish(draft: Path, path: Path) -> None:
    """Give a finished file its name, unless the name is taken."""
    try:
        os.link(draft, path)
    except FileExistsError:
        raise
    except OSError:
        # Some memory sticks know no links; there the name is taken first, then the file put in its place.
        path.touch(exist_ok=False)
        draft.replace(path)
