"""What a schema refuses in plain sentences, and what can still be read of what it refuses."""

from __future__ import annotations

import typing
from collections.abc import Mapping, Sequence
from functools import cache
from typing import Annotated, Any, Generic, TypeVar

from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic_core import ErrorDetails

__all__ = ["Part", "place_of", "plain", "shown"]

M = TypeVar("M", bound=BaseModel)


def place_of(loc: Sequence[int | str]) -> str:
    """Write a location as a path.

    Parameters
    ----------
    loc : sequence of int or str
        Keys and indices from the top.

    Returns
    -------
    str
        The path.

    Examples
    --------
    >>> place_of(("profiles", 0, "guards", "2A-B"))
    'profiles[0].guards.2A-B'
    """
    parts = [part for part in loc if part != "[key]"]
    path = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in parts)
    return path.lstrip(".") or "the file"


def shown(value: object) -> str:
    """Write a value as it is shown in a fault, shortened where it is long.

    Parameters
    ----------
    value : object
        What was written.

    Returns
    -------
    str
        At most sixty characters.
    """
    if isinstance(value, Mapping | list | tuple):
        kind = "table" if isinstance(value, Mapping) else "list"
        return f"a {kind} of {len(value)}"
    if value is None or isinstance(value, bool):
        text = {None: "null", True: "true", False: "false"}[value]
    else:
        text = repr(value) if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def plain(detail: ErrorDetails) -> tuple[str, str]:
    """Say what is wrong with a value, and what to do, without the schema's own jargon.

    Parameters
    ----------
    detail : ErrorDetails
        What a schema refused.

    Returns
    -------
    (str, str)
        What is wrong, with the value; the remedy.
    """
    kind, bounds, value = detail["type"], detail.get("ctx", {}), shown(detail["input"])
    if kind in _NOT:
        thing, remedy = _NOT[kind]
        return f"{value} is not {thing}", remedy
    if kind == "literal_error":
        return f"{value} is not allowed", f"use {bounds['expected']}"
    if kind in _BOUNDS:
        key, relation, remedy = _BOUNDS[kind]
        bound = f"{bounds[key]:,}" if isinstance(bounds[key], int) else f"{bounds[key]:g}"
        return f"{value} is {relation} {bound}", remedy.format(bound)
    if kind == "string_too_short":
        return "the text is empty", "write at least one character"
    if kind == "string_too_long":
        limit = bounds["max_length"]
        return f"{value} is longer than {limit} characters", f"shorten it to {limit} at most"
    if kind == "too_short":
        least, found = bounds["min_length"], bounds["actual_length"]
        what = "the list is empty" if not found else f"the list has {_entries(found)}"
        return what, f"write at least {_entries(least)}"
    if kind == "too_long":
        most, found = bounds["max_length"], bounds["actual_length"]
        return f"the list has {_entries(found)}", f"write at most {_entries(most)}"
    return f"{value} cannot be read here ({detail['msg']})", "write it as the documentation shows"


def _entries(n: int) -> str:
    return "one entry" if n == 1 else f"{n} entries"


_WHOLE = ("a whole number", "write a whole number, without quotes and without a fraction")
_TABLE = ("a table", "write a table of keys and values")
_LIST = ("a list", "write a list, in square brackets")
_TRUTH = ("true or false", "write true or false, without quotes")
_DATE = ("a date", "write a date such as 2026-07-04")
_TIME = ("a date and time", "write local time such as 2026-07-04T18:00")
_NUMBER = ("a number", "write a number in digits, without quotes")

_NOT = {
    "int_type": _WHOLE,
    "int_parsing": _WHOLE,
    "int_from_float": _WHOLE,
    "int_parsing_size": _WHOLE,
    "list_type": _LIST,
    "tuple_type": _LIST,
    "dict_type": _TABLE,
    "mapping_type": _TABLE,
    "model_type": _TABLE,
    "model_attributes_type": _TABLE,
    "string_type": ("text", "write text, in quotes"),
    "bool_type": _TRUTH,
    "bool_parsing": _TRUTH,
    "date_type": _DATE,
    "date_parsing": _DATE,
    "date_from_datetime_parsing": _DATE,
    "date_from_datetime_inexact": _DATE,
    "datetime_type": _TIME,
    "datetime_parsing": _TIME,
    "datetime_from_date_parsing": _TIME,
    "float_type": _NUMBER,
    "float_parsing": _NUMBER,
    "finite_number": _NUMBER,
}

_BOUNDS = {
    "greater_than_equal": ("ge", "less than", "write {} or more"),
    "less_than_equal": ("le", "more than", "write {} or less"),
    "greater_than": ("gt", "not above", "write more than {}"),
    "less_than": ("lt", "not below", "write less than {}"),
}


class Part(Generic[M]):
    """A table that may hold faults, read field by field.

    Parameters
    ----------
    model : type of BaseModel
        Its schema.
    raw : object
        What is written.

    Attributes
    ----------
    whole : BaseModel or None
        The table, when nothing but unknown keys is wrong with it.
    """

    __slots__ = ("_model", "_raw", "whole")

    whole: M | None

    def __init__(self, model: type[M], raw: object) -> None:
        self._model = model
        self._raw = dict(raw) if isinstance(raw, Mapping) else {}
        known = {key: value for key, value in self._raw.items() if key in model.model_fields}
        try:
            self.whole = model.model_validate(known if isinstance(raw, Mapping) else raw)
        except ValidationError:
            self.whole = None

    def has(self, name: str) -> bool:
        """Tell whether something is written under a key."""
        return self._raw.get(name) is not None

    def get(self, name: str) -> Any:  # noqa: ANN401 - as many types as there are fields
        """Return a field, its default, or None when it cannot be read."""
        if self.whole is not None:
            return getattr(self.whole, name)
        field = self._model.model_fields[name]
        if name not in self._raw:
            return None if field.is_required() else field.get_default(call_default_factory=True)
        try:
            return _field(self._model, name).validate_python(self._raw[name])
        except ValidationError:
            return None

    def items(self, name: str) -> list[tuple[int, Any]]:
        """Return the readable entries of a list, with their indices."""
        entries = self._raw.get(name)
        if not isinstance(entries, list | tuple):
            return []
        reader = _entry(self._model, name)
        found = []
        for index, entry in enumerate(entries):
            try:
                found.append((index, reader.validate_python(entry)))
            except ValidationError:
                continue
        return found

    def entries(self, name: str) -> list[tuple[str, Any]]:
        """Return the readable entries of a table of values, with their keys."""
        table = self._raw.get(name)
        if not isinstance(table, Mapping):
            return []
        reader = _entry(self._model, name)
        found = []
        for key, entry in table.items():
            try:
                found.append((key, reader.validate_python(entry)))
            except ValidationError:
                continue
        return found

    def keys(self, name: str) -> list[str]:
        """Return the keys of a table of values, readable or not."""
        table = self._raw.get(name)
        return [str(key) for key in table] if isinstance(table, Mapping) else []

    def part(self, name: str, model: type[BaseModel]) -> Part[Any]:
        """Return a table within."""
        return Part(model, self._raw.get(name))

    def rows(self, name: str, model: type[BaseModel]) -> dict[int, Part[Any]]:
        """Return the tables of a list of tables, by their indices."""
        entries = self._raw.get(name)
        if not isinstance(entries, list | tuple):
            return {}
        return {index: Part(model, entry) for index, entry in enumerate(entries)}


@cache
def _field(model: type[BaseModel], name: str) -> TypeAdapter[Any]:
    field = model.model_fields[name]
    kind: Any = field.annotation
    return TypeAdapter(Annotated[(kind, *field.metadata)] if field.metadata else kind)


@cache
def _entry(model: type[BaseModel], name: str) -> TypeAdapter[Any]:
    # The last argument of a list's or a table's type.
    kind: Any = model.model_fields[name].annotation
    return TypeAdapter(typing.get_args(kind)[-1])
