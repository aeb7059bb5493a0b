"""`ropewalk check`: the problems of a display file, or what the file plans, in words or as JSON."""

import json
from dataclasses import asdict
from pathlib import Path

from streamer.display.file import load
from streamer.display.model import Display
from streamer.display.numbering import universe_text
from streamer.display.patch import compile_patch
from streamer.errors import PlanError


def check_file(path: Path, *, as_json: bool) -> tuple[str, bool]:
    """Return what to print, and whether the file is right."""
    try:
        display = load(path)
    except PlanError as error:
        if as_json:
            problems = [asdict(problem) for problem in error.problems]
            return json.dumps({"file": str(path), "ok": False, "problems": problems}, indent=2), False
        count = len(error.problems)
        return f"{error}\n{count} problem{'s' if count > 1 else ''}.", False
    if as_json:
        return json.dumps({"file": str(path), "ok": True, "problems": [], "plan": _plan(display)}, indent=2), True
    return f"{path}: fine. {_words(display)}", True


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
    plan = _plan(display)
    universes = plan.pop("universes")
    counts = ", ".join(f"{count} {what}" for what, count in plan.items() if what != "name")
    return f"{display.name}: {counts}, {len(universes)} universes."  # type: ignore[arg-type]
