"""Changes single values of a display file that is right as it stands; comments and layout are kept."""

import contextlib
import os
import tempfile
from pathlib import Path
from typing import Any

import tomlkit

from streamer.display.file import load, parse
from streamer.display.places import plain
from streamer.errors import FileError, PlanError, Problem


def with_nodes(text: str, port: str, nodes: int) -> str:
    """Return the text of a display file in which a port's string has so many nodes.

    Segments are shortened or left out from the last one on; more nodes go to the last. Raises PlanError where
    there is no such port, or the display would not be right any more.
    """
    document = tomlkit.parse(text)
    table = _port_table(document.unwrap(), document, port)
    if "nodes" in table:
        table["nodes"] = nodes
    else:
        _resize(table["segments"], nodes)
    changed = tomlkit.dumps(document)
    parse(changed, f"the display with {nodes} nodes on {port}")
    return changed


def write_nodes(path: Path, port: str, nodes: int) -> None:
    """Give a port of a display file so many nodes; the file is whole at any moment. Raises FileError."""
    load(path)
    # Line ends stay as they are in the file.
    changed = with_nodes(path.read_bytes().decode("utf-8-sig"), port, nodes)
    try:
        handle, name = tempfile.mkstemp(dir=path.resolve().parent, prefix=f".{path.name}.")
        beside = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(changed.encode())
                file.flush()
                os.fsync(file.fileno())
            beside.chmod(path.stat().st_mode)
            beside.replace(path.resolve())
        except BaseException:
            with contextlib.suppress(OSError):
                beside.unlink()
            raise
    except OSError as error:
        what = f"it cannot be written ({error.strerror})"
        instead = f"Write nodes for {port} by hand: {nodes}"
        raise FileError([Problem(plain(str(path)), what, instead)]) from error


def _port_table(plain_data: dict[str, Any], document: Any, name: str) -> Any:  # noqa: ANN401  tomlkit's own tables
    """Return the table of a port as tomlkit holds it."""
    for controller, data in enumerate(plain_data.get("controllers", [])):
        for port, each in enumerate(data.get("ports", [])):
            if f"{data['name']}/{each['number']}" == name:
                return document["controllers"][controller]["ports"][port]
    raise PlanError([Problem(plain(name), "there is no such port in the file", "Name one that is in it")])


def _resize(segments: Any, nodes: int) -> None:  # noqa: ANN401
    """Give the segments so many nodes in all, from the last one back."""
    spare = nodes - sum(int(segment["nodes"]) for segment in segments)
    if spare > 0:
        segments[-1]["nodes"] += spare
    while spare < 0:
        last = segments[-1]
        taken = min(int(last["nodes"]), -spare)
        spare += taken
        if taken == int(last["nodes"]) and len(segments) > 1:
            del segments[-1]
        else:
            last["nodes"] = int(last["nodes"]) - taken
