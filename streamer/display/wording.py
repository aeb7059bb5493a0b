"""Says what pydantic found wrong in a table of the display file, in words, with what to write instead."""

import difflib

from annotated_types import Ge, Le
from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from streamer.display.places import KeyPath, Locate, shown
from streamer.errors import Problem


def problems_in(
    error: ValidationError, model: type[BaseModel], path: KeyPath, locate: Locate
) -> list[Problem]:
    """Return one problem for each thing wrong in the table at `path`."""
    return [_problem(details, model, path, locate) for details in error.errors(include_url=False)]


def problem_at(locate: Locate, path: KeyPath, what: str, instead: str) -> Problem:
    """Return a problem with the place of a key path."""
    place = locate(path)
    return Problem(place.text, what, instead, place.line, place.column)


def must_be(field: FieldInfo) -> str:
    """Return what a field's value has to be: "a whole number from 1 to 512"."""
    if field.description:
        return field.description
    if field.annotation is bool:
        return "true or false"
    low = next(rule.ge for rule in field.metadata if isinstance(rule, Ge))
    high = next(rule.le for rule in field.metadata if isinstance(rule, Le))
    return f"a whole number from {low} to {high}"


def _problem(details: ErrorDetails, model: type[BaseModel], path: KeyPath, locate: Locate) -> Problem:
    loc = details["loc"]
    table = _table_of(model, loc)
    here = (*path, *loc)
    name = next(key for key in reversed(loc) if isinstance(key, str))
    if details["type"] == "extra_forbidden":
        return problem_at(locate, here, f"unknown key {shown(name)}", _did_you_mean(name, table))
    field = table.model_fields[name]
    example = (field.examples or [""])[0]
    if details["type"] == "missing":
        return problem_at(locate, here, f"the key '{name}' is missing", f"Add, for example: {example}")
    value = shown(details["input"])
    nth = f" (entry {loc[-1] + 1})" if isinstance(loc[-1], int) else ""
    what = f"{name}{nth} is {value}, but must be {must_be(field)}"
    return problem_at(locate, here, what, f"Write, for example: {example}")


def _table_of(model: type[BaseModel], loc: KeyPath) -> type[BaseModel]:
    """Return the table that holds the last key of `loc`: segments are tables inside a port."""
    *outer, _ = [key for key in loc if isinstance(key, str)]
    for key in outer:
        annotation = model.model_fields[key].annotation
        kinds = (annotation, *getattr(annotation, "__args__", ()))
        model = next(one for one in kinds if isinstance(one, type) and issubclass(one, BaseModel))
    return model


def _did_you_mean(name: str, table: type[BaseModel]) -> str:
    close = difflib.get_close_matches(name.lower(), table.model_fields, n=1)
    if close:
        return f"Did you mean '{close[0]}'?"
    return f"Take it out; the keys here are {', '.join(table.model_fields)}"
