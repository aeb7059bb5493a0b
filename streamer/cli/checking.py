"""`ropewalk check`: the problems of a display file, or what the file plans, in words or as JSON."""

import json
from dataclasses import asdict
from pathlib import Path

from streamer.cli.common import counted
from streamer.display.file import load
from streamer.display.model import Display
from streamer.display.numbering import universe_text
from streamer.display.patch import compile_patch
from streamer.display.places import plain
from streamer.errors import PlanError


def check_file(path: Path, *, as_json: bool) -> tuple[str, bool]:
    """Return what to print, and whether the file is right."""
    try:
        display = load(path)
    except PlanError as error:
        if as_json:
            problems = [asdict(problem) for problem in error.problems]
            return json.dumps({"file": str(path), "ok": False, "problems": problems}, indent=2), False
        return f"{error}\n{counted(len(error.problems), 'problem')}.", False
    if as_json:
        plan = _plan(display)
        return json.dumps({"file": str(path), "ok": True, "problems": [], "plan": plan}, indent=2), True
    return f"{plain(str(path))}: fine. {_words(display)}", True


def _plan(display: Display) -> dict[str, object]:
    streams = compile_patch(display).streams
    return {
        "name": display.name,
        "controllers": len(display.controllers),
        "ports": len(display.ports),
        "nodes": sum(port.nodes for port in display.ports),
        "fixtures": sum(len(controller.fixtures) for controller in display.controllers),
        "universes": [universe_text(stream.key.protocol, stream.key.universe) for stream in streams],
    }


def _words(display: Display) -> str:
    counts = [
        counted(len(display.controllers), "controller"),
        counted(len(display.ports), "port"),
        counted(sum(port.nodes for port in display.ports), "node"),
        counted(sum(len(controller.fixtures) for controller in display.controllers), "fixture"),
        counted(len(compile_patch(display).streams), "universe"),
    ]
    return f"{plain(display.name)}: {', '.join(counts)}."
