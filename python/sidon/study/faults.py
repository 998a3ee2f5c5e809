"""From what the schema refuses to faults with a place, what is wrong, and a remedy."""

from __future__ import annotations

import difflib
import typing
from collections.abc import Mapping, Sequence

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from sidon.exceptions import Fault

__all__ = ["nearest", "place_of", "schema_faults"]

_REMEDIES = {
    "list_type": "write a list, in square brackets",
    "dict_type": "write a table of keys and values",
    "model_type": "write a table of keys and values",
    "string_type": "write text, in quotes",
    "int_type": "write a whole number",
    "bool_type": "write true or false",
    "date_from_datetime_parsing": "write a date such as 2026-07-04",
    "date_type": "write a date such as 2026-07-04",
    "float_type": "write a number of degrees",
    "float_parsing": "write a number of degrees",
    "finite_number": "write a number of degrees",
    "too_short": "add at least one entry",
    "string_too_short": "write at least one character",
    "string_too_long": "shorten it",
}


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
    path = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in loc)
    return path.lstrip(".") or "the file"


def nearest(word: str, known: Sequence[str]) -> str:
    """Suggest the nearest known word, or list what is known.

    Parameters
    ----------
    word : str
        The unknown word.
    known : sequence of str
        What it could have been.

    Returns
    -------
    str
        A remedy.

    Examples
    --------
    >>> nearest("seperation", ["separation", "raster"])
    "did you mean 'separation'?"
    """
    close = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    if close:
        return f"did you mean {close[0]!r}?"
    if not known:
        return "none is defined; define it or leave it out"
    return f"known: {', '.join(known[:20])}{', ...' if len(known) > 20 else ''}"


def schema_faults(error: ValidationError, model: type[BaseModel]) -> list[Fault]:
    """Translate everything a schema refused.

    Parameters
    ----------
    error : ValidationError
        What was raised.
    model : type of BaseModel
        The schema that raised it, for the known keys.

    Returns
    -------
    list of Fault
        One fault per refusal, in the order of the schema.
    """
    return [_fault(detail, model) for detail in error.errors(include_url=False)]


def _fault(detail: ErrorDetails, model: type[BaseModel]) -> Fault:
    loc, kind, context = detail["loc"], detail["type"], detail.get("ctx", {})
    place = place_of(loc)
    if kind == "sidon":
        return Fault(place, context["what"], context["remedy"])
    if kind == "extra_forbidden":
        known = sorted(set(_keys(model, loc[:-1])))
        return Fault(place, f"the key {loc[-1]!r} is unknown", nearest(str(loc[-1]), known))
    if kind == "missing":
        return Fault(place, f"the key {loc[-1]!r} is missing", _missing_remedy(loc))
    if kind == "literal_error":
        return Fault(
            place, f"{_shown(detail['input'])} is not allowed", f"use {context['expected']}"
        )
    message = detail["msg"][:1].lower() + detail["msg"][1:]
    what = f"{_shown(detail['input'])}: {message.replace('input should', 'it should')}"
    return Fault(place, what, _REMEDIES.get(kind, "correct it"))


def _missing_remedy(loc: Sequence[int | str]) -> str:
    if loc == ("format",):
        return "add format = 'sidon-study/1' as the first line"
    return "add it"


def _shown(value: object) -> str:
    if isinstance(value, Mapping | list):
        return f"a {'table' if isinstance(value, Mapping) else 'list'} of {len(value)}"
    text = repr(value) if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _keys(model: type[BaseModel], loc: Sequence[int | str]) -> list[str]:
    """Known keys of the table at `loc`: follow the annotations down from the top."""
    current: object = model
    for part in loc:
        if isinstance(part, int) or not _is_model(current):
            continue
        field = typing.cast("type[BaseModel]", current).model_fields.get(str(part))
        current = _model_within(field.annotation) if field else None
    return list(typing.cast("type[BaseModel]", current).model_fields) if _is_model(current) else []


def _is_model(thing: object) -> bool:
    return isinstance(thing, type) and issubclass(thing, BaseModel)


def _model_within(annotation: object) -> object:
    if _is_model(annotation):
        return annotation
    for inner in typing.get_args(annotation):
        found = _model_within(inner)
        if found is not None:
            return found
    return None
