"""Turns the tables of a display file into a display, going on past every problem to find the others.

Tables with problems are left out of the display that is checked as a whole, so one slip is told once.
"""

from collections.abc import Iterator
from typing import Any, TypeVar

from pydantic import ValidationError

from streamer.display.checks import check
from streamer.display.convert import (
    controller_from,
    fixture_from,
    port_from,
    problems_of_fixture,
    problems_of_port,
)
from streamer.display.convert_power import power_of_head, problems_of_head
from streamer.display.keys import FilePart
from streamer.display.model import Controller, Display, Fixture, Port
from streamer.display.places import KeyPath, Place, shown
from streamer.display.positions import Places
from streamer.display.schema import FileController, FileDisplay, FileFixture, FilePort
from streamer.display.wording import problem_at, problems_in
from streamer.errors import FileError, Problem
from streamer.flash_rule import FLASHES_PER_S

P = TypeVar("P", bound=FilePart)

TOLD_LIMIT = 1_000
"""Problems told one by one: a person reads no more, and a hostile file makes a hundred thousand."""
TABLE_KEYS = ("ports", "fixtures")


class Reader:
    """Reads one parsed file; `places` knows where its keys stand."""

    def __init__(self, data: dict[str, Any], places: Places) -> None:
        self._data = data
        self._places = places
        self._problems: list[Problem] = []
        self._kept: dict[KeyPath, KeyPath] = {}
        """The file's path of each controller, port and fixture of the display."""

    def display(self) -> Display:
        """Return the display. Raises `FileError` with every problem of the file."""
        head = self._model(FileDisplay, {**self._data, "controllers": []}, ())
        is_head_whole = head is not None and not self._refused(problems_of_head(head, self._places))
        display = Display(
            name=head.name if head else "",
            controllers=tuple(self._controllers()),
            flashes_per_s=head.flashes_per_s if head else FLASHES_PER_S,
            **(power_of_head(head) if head and is_head_whole else {}),
        )
        lit = any(controller.ports or controller.fixtures for controller in display.controllers)
        # A display left empty only by its other problems is not also told that it is empty.
        is_emptied = bool(self._problems and not lit and self._data.get("controllers"))
        found = check(display, self._locate, with_power=is_head_whole, may_be_empty=is_emptied)
        if self._problems or found:
            raise FileError(self._told([*self._problems, *found]))
        return display

    def _told(self, problems: list[Problem]) -> list[Problem]:
        """Return the problems in the order of the file, what has no line last, too many cut short."""
        told = sorted(problems, key=lambda problem: (not problem.line, problem.line))
        if len(told) > TOLD_LIMIT:
            what = f"{len(told) - TOLD_LIMIT} more things are wrong"
            more = problem_at(self._places, (), what, "Mend those told and check again")
            told = [*told[:TOLD_LIMIT], more]
        return told

    def _controllers(self) -> Iterator[Controller]:
        kept = 0
        for path, table in self._tables(self._data, "controllers", ()):
            head = self._model(FileController, table | {key: [] for key in table.keys() & TABLE_KEYS}, path)
            new = ("controllers", kept)
            ports = tuple(self._ports(head, table, path, new))
            fixtures = tuple(self._fixtures(head, table, path, new))
            if head:
                self._kept[new] = path
                kept += 1
                yield controller_from(head, ports, fixtures)

    def _ports(
        self, head: FileController | None, table: dict[str, Any], path: KeyPath, new: KeyPath
    ) -> Iterator[Port]:
        kept = 0
        for item_path, item in self._tables(table, "ports", path):
            port = self._model(FilePort, item, item_path)
            if head and port and not self._refused(problems_of_port(head, port, item_path, self._places)):
                self._kept[(*new, "ports", kept)] = item_path
                kept += 1
                yield port_from(head, port)

    def _fixtures(
        self, head: FileController | None, table: dict[str, Any], path: KeyPath, new: KeyPath
    ) -> Iterator[Fixture]:
        kept = 0
        for item_path, item in self._tables(table, "fixtures", path):
            fixture = self._model(FileFixture, item, item_path)
            if (
                head
                and fixture
                and not self._refused(problems_of_fixture(head, fixture, item_path, self._places))
            ):
                self._kept[(*new, "fixtures", kept)] = item_path
                kept += 1
                yield fixture_from(head, fixture)

    def _tables(
        self, table: dict[str, Any], key: str, path: KeyPath
    ) -> Iterator[tuple[KeyPath, dict[str, Any]]]:
        """Yield the path and the table of each entry of a list of tables."""
        header = ".".join([*(part for part in path if isinstance(part, str)), key])
        entries = table.get(key, [])
        if not isinstance(entries, list):
            entries = [entries]
            self._not_tables(
                (*path, key), f"'{key}' is {shown(table[key])}, but must be a list of tables", header
            )
            return
        for index, entry in enumerate(entries):
            if isinstance(entry, dict):
                yield (*path, key, index), entry
            else:
                what = f"'{key}' holds {shown(entry)}, but must be a list of tables"
                self._not_tables((*path, key, index), what, header)

    def _not_tables(self, path: KeyPath, what: str, header: str) -> None:
        instead = f"Begin each one on a line of its own, with double brackets: [[{header}]]"
        self._problems.append(problem_at(self._places, path, what, instead))

    def _model(self, model: type[P], table: dict[str, Any], path: KeyPath) -> P | None:
        try:
            return model.model_validate(table)
        except ValidationError as error:
            self._problems += problems_in(error, model, path, self._places)
            return None

    def _refused(self, problems: list[Problem]) -> bool:
        self._problems += problems
        return bool(problems)

    def _locate(self, path: KeyPath) -> Place:
        """Return the place in the file of something in the display, which lacks what has problems."""
        for length in (4, 2):
            if path[:length] in self._kept:
                return self._places((*self._kept[path[:length]], *path[length:]))
        return self._places(path)
