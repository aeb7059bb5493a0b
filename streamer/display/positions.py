"""Finds the line and column of every key of a display file. What the file means is decided elsewhere.

The grammar is a C library, so it is only given text that is bounded and has already been accepted.
"""

import re
from collections.abc import Mapping
from functools import cached_property
from typing import Any

import numpy as np
import tomlkit
import tree_sitter_toml
from numpy.typing import NDArray
from tree_sitter import Language, Node, Parser

from streamer.display.places import KeyPath, Place, plain, shown

POSITIONS_LIMIT = 200_000
"""Most keys that are given a position; later ones are told without. Bounds memory."""

OUTER_MOST = 4
"""Of what stands around a key no deeper part is ever told: a hostile header names thousands."""

UTF8_LEAD_MASK, UTF8_CONTINUATION = 0xC0, 0x80
"""RFC 3629 section 3: later octets of a character begin with the bits 10."""

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


class Places:
    """Finds the keys of one TOML text. `data` is the same text, parsed."""

    def __init__(self, text: str, name: str, data: Mapping[str, Any]) -> None:
        self._text = text
        self._name = plain(name)
        self._data = data

    def __call__(self, path: KeyPath) -> Place:
        """Return the place of a key, or of the nearest thing around it."""
        known = path
        while known and known not in self._positions:
            known = known[:-1]
        line, column = self._positions.get(known, (0, 0))
        where = f"{self._name}:{line}" if line else self._name
        return Place(f"{where}: {self._words(path)}" if path else where, line, column)

    @cached_property
    def _positions(self) -> dict[KeyPath, tuple[int, int]]:
        return positions_of(self._text)

    def _words(self, path: KeyPath) -> str:
        words = ""
        here: Any = self._data
        for key in path:
            here = _inside(here, key)
            words += _word(key, here)
        return words.removeprefix(".")


def _inside(here: object, key: str | int) -> object:
    if isinstance(here, dict) and isinstance(key, str):
        return here.get(key)
    if isinstance(here, list) and isinstance(key, int) and key < len(here):
        return here[key]
    return None


def _word(key: str | int, item: object) -> str:
    if isinstance(key, str):
        return f".{key if _BARE_KEY.fullmatch(key) else shown(key)}"
    if isinstance(item, dict):
        if isinstance(name := item.get("name"), str):
            return _word(name, None)
        if isinstance(number := item.get("number"), int):
            return f"[{shown(number)}]"
    return f"[entry {key + 1}]"


def positions_of(text: str) -> dict[KeyPath, tuple[int, int]]:
    """Return the line and column, from 1, of each key and list item of a valid, bounded TOML text."""
    octets = text.encode()
    language = Language(tree_sitter_toml.language())
    finder = _Finder(octets)
    finder.read(Parser(language).parse(octets).root_node)
    return finder.positions


class _Finder:
    """Walks the syntax tree, without recursion, and keeps the first position of each key path."""

    def __init__(self, octets: bytes) -> None:
        self.positions: dict[KeyPath, tuple[int, int]] = {}
        self._lines = octets.split(b"\n")
        self._columns_of: dict[int, NDArray[np.int32]] = {}
        self._counts: dict[KeyPath, int] = {}
        """How many tables each list of tables has so far."""

    def read(self, root: Node) -> None:
        for node in root.named_children:
            if node.type == "pair":
                self._walk(node, ())
            elif node.type in ("table", "table_array_element"):
                self._table(node)

    def _table(self, node: Node) -> None:
        header, *pairs = node.named_children
        *outer, last = _keys(header)
        path = (*self._resolve(tuple(outer)), last)
        if node.type == "table_array_element":
            index = self._counts.get(path, 0)
            self._counts[path] = index + 1
            self._keep(path, node)
            path = (*path, index)
        self._keep(path, node)
        for pair in pairs:
            self._walk(pair, path)

    def _resolve(self, keys: tuple[str, ...]) -> KeyPath:
        """Return the path of a header's keys: one that names a list of tables means the latest of them."""
        path: KeyPath = ()
        for key in keys:
            path = (*path, key)
            if path in self._counts:
                path = (*path, self._counts[path] - 1)
        return path

    def _walk(self, node: Node, path: KeyPath) -> None:
        waiting = [(node, path)]
        while waiting and len(self.positions) < POSITIONS_LIMIT:
            node, path = waiting.pop()
            parts = [part for part in node.named_children if part.type != "comment"]
            if node.type == "pair" and len(parts) > 1:
                path = (*path, *_keys(parts[0]))
                self._keep(path, node)
                waiting.append((parts[1], path))
            elif node.type == "inline_table":
                waiting.extend((part, path) for part in parts)
            elif node.type == "array":
                for index, part in enumerate(parts):
                    self._keep((*path, index), part)
                    waiting.append((part, (*path, index)))

    def _keep(self, path: KeyPath, node: Node) -> None:
        row, octet = node.start_point
        place = row + 1, int(self._columns(row)[octet])
        for length in range(1, min(len(path), OUTER_MOST + 1)):
            # A table that no header of its own begins, as a in [a.b], begins where it is first named.
            self.positions.setdefault(path[:length], place)
        self.positions.setdefault(path, place)

    def _columns(self, row: int) -> NDArray[np.int32]:
        """Return the column, from 1, of each octet of a line: characters are one or more octets long."""
        if row not in self._columns_of:
            line = np.frombuffer(self._lines[row] + b"\n", np.uint8)
            self._columns_of[row] = np.cumsum(line & UTF8_LEAD_MASK != UTF8_CONTINUATION, dtype=np.int32)
        return self._columns_of[row]


def _keys(node: Node) -> list[str]:
    """Return the parts of a key, "a.b" as a and b; the parts of a dotted key are nested to the left."""
    keys: list[str] = []
    while node.type == "dotted_key":
        *rest, last = node.named_children
        keys.append(_unquoted(last))
        node = rest[0]
    return [_unquoted(node), *reversed(keys)]


def _unquoted(node: Node) -> str:
    text = (node.text or b"").decode(errors="replace")
    if "\\" in text:
        return next(iter(tomlkit.parse(f"{text} = 0")))
    return text[1:-1] if node.type == "quoted_key" else text
