"""What loads what, seen by fresh interpreters: the rooms stay apart, and the command starts fast."""

import ast
import pkgutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

import patterns
import streamer

ROOT = Path(__file__).parents[1]
CODECS = sorted((ROOT / "streamer/wire").glob("*.py"))
ENTRANCES = {"streamer.yard.process", "streamer.engine.process", "streamer.hear.process"}
"""They may be run as programs; importing them starts nothing."""


def loaded_by(*modules: str) -> set[str]:
    """Return what a fresh interpreter has loaded after importing these."""
    imports = "; ".join(f"import {module}" for module in modules)
    program = f"{imports}; import sys; print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False, cwd=ROOT, timeout=60
    )
    assert done.returncode == 0, done.stderr
    return set(done.stdout.split())


def every_module(package: ModuleType) -> list[str]:
    """Return a package's name and those of all modules in it."""
    name, path = package.__name__, package.__path__
    return [name, *(module.name for module in pkgutil.walk_packages(path, f"{name}."))]


def roots(modules: set[str]) -> set[str]:
    """Return the first parts of modules' names."""
    return {module.partition(".")[0] for module in modules}


def test_nothing_of_streamer_or_patterns_loads_the_screen():
    """Every module of both, at once; Textual and our own screens stay out."""
    modules = every_module(streamer) + every_module(patterns)
    assert set(modules) > ENTRANCES
    assert not {"textual", "rich", "tui"} & roots(loaded_by(*modules))


def test_the_command_loads_no_screen_before_it_is_asked_for_one():
    """Nor what opens it: `ropewalk demo --no-ui` works where Textual does not."""
    loaded = loaded_by("tui.command", "tui.commands", "tui.opening", "streamer.cli.send", "streamer.cli.runs")
    assert not {"textual", "rich"} & roots(loaded)


def test_the_list_of_commands_loads_neither_models_nor_arrays():
    """`ropewalk --help` is answered in a tenth of a second; pydantic and NumPy alone take longer."""
    assert not {"pydantic", "numpy", "psutil", "tomlkit"} & roots(loaded_by("tui.command", "tui.commands"))


def test_no_process_of_ours_loads_anything_that_reads_display_files():
    """They are given a checked display: a parser in C would only delay and endanger them."""
    loaded = loaded_by(*ENTRANCES)
    assert not {"tree_sitter", "tree_sitter_toml", "tomlkit"} & roots(loaded)


def test_patterns_load_nothing_of_streamer():
    """They are pure functions of a layout and a moment."""
    ours = roots(loaded_by(*every_module(patterns))) & {"streamer", "tui", "patterns"}
    assert ours == {"patterns"}


@pytest.mark.parametrize("path", CODECS, ids=lambda path: path.stem)
def test_codecs_ask_for_no_socket_and_no_clock(path: Path):
    """`streamer.wire` is sans-IO: octets in, octets out, time as an argument."""
    asked = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            asked |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            asked.add(node.module or "")
    assert not {"socket", "time", "datetime", "asyncio", "threading", "select", "random"} & roots(asked)
    ours = {name for name in asked if name.startswith(("streamer", "patterns", "tui"))}
    assert all(name.startswith(("streamer.wire", "streamer.errors")) for name in ours)


def test_reading_packets_loads_no_socket():
    """All codecs but the one that lays packets out with the libraries, which open sockets themselves."""
    modules = [f"streamer.wire.{path.stem}" for path in CODECS if path.stem not in {"__init__", "lay_out"}]
    assert not {"socket", "_socket", "asyncio"} & loaded_by(*modules)
