import sys
from collections.abc import Iterator
from importlib import import_module, invalidate_caches
from pathlib import Path
from types import ModuleType

import pytest

from patterns.plain import PatternError
from patterns.registry import all_patterns, get

NEW = """
from patterns.plain import Pattern

PATTERN = Pattern(
    name="{name}",
    sentence="Nothing is lit.",
    shows="Stray light.",
    render=lambda layout, moment, params: layout.dark(),
    steps=lambda layout, params: 1,
    describe=lambda layout, moment, params: "dark",
)
"""


@pytest.fixture
def boathouse(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[ModuleType]:
    """Yield a package of a person's own patterns, with one in it."""
    folder = tmp_path / "boathouse"
    folder.mkdir()
    (folder / "__init__.py").write_text("")
    (folder / "calm.py").write_text(NEW.format(name="calm"))
    monkeypatch.syspath_prepend(tmp_path)
    yield import_module("boathouse")
    for name in [name for name in sys.modules if name.startswith("boathouse")]:
        del sys.modules[name]


def write(package: ModuleType, name: str, text: str) -> None:
    """Add a module to a package."""
    Path(package.__file__ or "").with_name(f"{name}.py").write_text(text)
    invalidate_caches()


def test_the_patterns_are_these():
    """Every pattern is found, each once, by name."""
    names = [pattern.name for pattern in all_patterns()]
    assert names == [
        "bits", "burst", "count", "fixtures", "level", "order", "picture", "probe", "ramp",
        "sweep", "tint", "walk", "weave",
    ]  # fmt: skip


def test_one_new_file_is_one_new_pattern(boathouse: ModuleType):
    """A module dropped into the package is found with no other change."""
    assert [pattern.name for pattern in all_patterns(boathouse)] == ["calm"]
    write(boathouse, "night", NEW.format(name="night"))
    assert [pattern.name for pattern in all_patterns(boathouse)] == ["calm", "night"]
    assert get("night", boathouse).sentence == "Nothing is lit."


def test_a_file_without_a_pattern_is_told(boathouse: ModuleType):
    """A misspelt PATTERN is an error that names the module, not a pattern that never appears."""
    write(boathouse, "fog", "PATERN = 1")
    with pytest.raises(PatternError, match=r"boathouse\.fog holds no pattern: write PATTERN"):
        all_patterns(boathouse)


def test_two_patterns_of_one_name_are_told(boathouse: ModuleType):
    """A name taken twice is an error that names the file."""
    write(boathouse, "still", NEW.format(name="calm"))
    with pytest.raises(PatternError, match=r"two patterns are called calm: rename the one in still\.py"):
        all_patterns(boathouse)


def test_an_unknown_name_gets_the_nearest():
    """A slip of the finger is answered with what was meant, in one sentence."""
    with pytest.raises(PatternError, match="no pattern is called 'wlak'; there is walk"):
        get("wlak")


def test_a_hopeless_name_gets_them_all():
    """Where nothing is near, every name is offered, and the name is not repeated at length or raw."""
    with pytest.raises(PatternError) as caught:
        get("\x1b[2J" + "q" * 1000)
    assert "bits, burst, count" in str(caught.value)
    assert str(caught.value).isprintable()
    assert len(str(caught.value)) < 200
