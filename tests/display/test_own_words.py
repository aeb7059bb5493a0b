"""Whatever is wrong with a display file, it is told in our words: no library's wording reaches a person.

What the libraries can say is read from them: pydantic's list of its messages, the texts in tomlkit's sources.
"""

import ast
import inspect
import re
from collections.abc import Iterator
from types import ModuleType

import pytest
import tomlkit.container
import tomlkit.exceptions
import tomlkit.parser
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel
from pydantic_core._pydantic_core import list_all_errors

from streamer.display.file import parse
from streamer.display.schema import FileController, FileDisplay, FileFixture, FilePort, FileSegment
from streamer.display.schema_power import FileInjection, FileLead, FileNodeKind, FileSupply
from streamer.errors import PlanError, Problem
from tests.display.test_file import GOOD

FEWEST_LETTERS = 9
"""A shorter piece of a message is no wording: "at line"."""
HAS_NO_LINE = "no port and no fixture"


def pydantic_says() -> Iterator[str]:
    """Yield the pieces of every message that stand in it whatever it is about."""
    for each in list_all_errors():
        for template in (each["message_template_python"], each.get("message_template_json", "")):
            yield from re.split(r"\{[^}]*\}", template)


def tomlkit_says(module: ModuleType) -> Iterator[str]:
    """Yield the texts with which a module makes its errors."""
    for node in ast.walk(ast.parse(inspect.getsource(module))):
        is_told = isinstance(node, ast.Raise | ast.Call) or (
            isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) in {"message", "msg"}
        )
        if is_told and (not isinstance(node, ast.Call) or "error" in ast.unparse(node.func).lower()):
            for each in ast.walk(node):
                if isinstance(each, ast.Constant) and isinstance(each.value, str):
                    yield each.value


WORDINGS = frozenset(
    piece.strip(" .,:'\"")
    for said in (
        pydantic_says(),
        *map(tomlkit_says, (tomlkit.exceptions, tomlkit.parser, tomlkit.container)),
    )
    for piece in said
    if len(piece.strip(" .,:'\"")) >= FEWEST_LETTERS and " " in piece.strip()
)


def problems(text: str) -> tuple[Problem, ...]:
    """Return what is wrong with a file's text; nothing where it is right."""
    try:
        parse(text, "display.toml")
    except PlanError as error:
        return error.problems
    return ()


def check_words(text: str) -> None:
    """Check that everything told is ours, has its file, and says what to do."""
    for problem in problems(text):
        told = f"{problem.place} {problem.what} {problem.instead}"
        assert not [each for each in WORDINGS if each in told], told
        assert "display.toml" in problem.place
        assert problem.what
        assert problem.instead
        assert problem.line or HAS_NO_LINE in problem.what or "'name' is missing" in problem.what, told


def test_the_wordings_are_those_of_the_libraries():
    """So that looking for them can fail."""
    assert {"Input should be a valid integer", "Unexpected character", "already exists"} <= WORDINGS
    assert "TOML value nested more than" in WORDINGS
    assert "Redefinition of an existing table" in WORDINGS


BROKEN = [
    "name",
    "name =",
    "name = Boathouse",
    "= 1",
    'a = "x',
    'a = """x',
    r'a = "\q"',
    r'a = "\uZZZZ"',
    'a = "\x01"',
    "[]",
    "[[ ]]",
    "[a",
    "a = [1,",
    "a = [1 2]",
    "a = {b = 1",
    "a = {b = 1,, c = 2}",
    "a = 1979-13-45",
    "a = 25:61:00",
    "a = 1979-05-27T99:00:00",
    "a = 01",
    "a = 0x",
    "a = +",
    "a = 1,5",
    "a = 5 mm",
    "a: 1",
    "a = 1\na = 2",
    "[a]\n[a]",
    "[a]\nb = 1\n[a.b]\nc = 1",
    "a.b = 1\na = 2",
    "a.b.c = 1\n[a.b]\nd = 1",
    "a b = 1",
    "a = tru",
    "\x00",
    "# \x02",
    "[a]\n[[a]]",
    "a = " + "9" * 5000,
    "a = " + "{b=" * 3000,
    "a = " + "[" * 3000,
    "a." * 5000 + "a = 1",
    "[[controllers.ports]]\nnumber = 1\n[[controllers]]\nname = 'a'",
]
"""A line of each kind that tomlkit refuses."""


@pytest.mark.parametrize("text", BROKEN)
def test_broken_toml_is_told_in_our_words_with_its_line(text: str):
    """Each after a line that is right, which is not the one told."""
    (problem,) = problems(f"x = 1\n{text}")
    check_words(f"x = 1\n{text}")
    assert problem.line >= 2
    assert problem.place == f"display.toml:{problem.line}"


def test_a_line_that_the_parser_does_not_tell_is_found():
    """A table that stands twice is found out when it is put into the whole, by a parser without a line."""
    text = "# first\n" * 100 + "[a]\nb = 1\n[a.b]\nc = 1\n" + "# last\n" * 100
    (problem,) = problems(text)
    assert problem.line == 103
    assert "'b' stands twice" in problem.what


@pytest.mark.parametrize("wrong", ["[b.c]\n", "x = \n"])
def test_lines_end_where_toml_says(wrong: str):
    """TOML 1.0, "Spec": a newline is LF or CRLF. U+2028 and U+0085 in a text end none."""
    text = 'a = "\u2028\u0085"\n[b.c]\nx = 1\n[b]\ny = 1\n' + wrong
    (problem,) = problems(text)
    assert problem.line == 6


def test_a_key_missing_in_a_table_in_a_table_is_told():
    """The lead of an injection has a length and a wire."""
    head = "[[controllers]]\n[[controllers.ports]]\n[[controllers.ports.injections]]\nafter = 1\nlead = {}"
    told = [each.what for each in problems(head) if "lead" in each.place]
    assert told == ["the key 'length' is missing", "the key 'wire' is missing"]


TABLES: dict[str, type[BaseModel]] = {
    "": FileDisplay,
    "[[supplies]]": FileSupply,
    "[[node_kinds]]": FileNodeKind,
    "[[controllers]]": FileController,
    "[[controllers.ports]]": FilePort,
    "[[controllers.ports.segments]]": FileSegment,
    "[[controllers.ports.injections]]": FileInjection,
    "[controllers.ports.lead]": FileLead,
    "[[controllers.fixtures]]": FileFixture,
}
VALUES = (
    "true",
    "-1",
    "0",
    "1.5",
    "nan",
    "inf",
    "1e300",
    "9" * 30,
    '""',
    '" a"',
    '"\\u0007"',
    f'"{"x" * 70}"',
    '"a/b"',
    '"12 V"',
    '"3 furlongs"',
    '"99 AWG"',
    '"host.local"',
    '"9:9"',
    "[]",
    "[[]]",
    "[1, 'a']",
    "{}",
    "{ a = 1 }",
    "[{ nodes = 'a' }]",
    "1979-05-27",
    "07:32:00",
    "1979-05-27T07:32:00Z",
)
PICK = st.sampled_from


@st.composite
def tables(draw: st.DrawFn) -> str:
    """Draw a file whose tables hold keys that are known, and a few that are not, with any values."""
    lines = []
    for head, model in TABLES.items():
        if head and not draw(st.booleans()):
            continue
        keys = draw(st.lists(PICK([*model.model_fields, "priorty", "ü"]), unique=True, max_size=4))
        lines += [head, *(f"'{key}' = {draw(PICK(VALUES))}" for key in keys if f"[{key}]" not in head)]
    return "\n".join(lines)


@st.composite
def slips(draw: st.DrawFn) -> str:
    """Draw the good file with a piece cut out, and another put in."""
    first = draw(st.integers(0, len(GOOD)))
    last = draw(st.integers(first, min(len(GOOD), first + 30)))
    put_in = draw(st.text("[]{}=\"'\n\x00\x07,.:#ab1-_ ü", max_size=4))
    return GOOD[:first] + put_in + GOOD[last:]


@settings(max_examples=100, deadline=None)
@given(st.one_of(tables(), slips()))
def test_drawn_broken_files_are_told_in_our_words(text: str):
    """Wrong values for every key, unknown keys, and files with pieces missing."""
    check_words(text)
