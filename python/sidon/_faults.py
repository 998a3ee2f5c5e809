"""From what the schema refuses to faults with a place, what is wrong, and a remedy."""

from __future__ import annotations

import difflib
import math
import typing
from collections.abc import Sequence

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from sidon._schema import place_of, plain
from sidon.exceptions import Fault

__all__ = ["nearest", "schema_faults"]

_CUT_SHORT = ("profiles", "zones", "demand")
"""What a file lacks that ends between two of its tables."""


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
    # Words that differ in case only are the nearest of all.
    folded = {name.casefold(): name for name in reversed(known)}
    close = difflib.get_close_matches(word.casefold(), folded, n=1, cutoff=0.6)
    if close:
        return f"did you mean {folded[close[0]]!r}?"
    if not known:
        return "none is defined; define it or leave it out"
    known = list(dict.fromkeys(known))
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
    what, remedy = plain(detail)
    if place in ("place.latitude", "place.longitude") and kind.startswith(("float", "finite")):
        remedy = "write degrees as a decimal fraction, such as 47.25"
    if kind in ("less_than_equal", "greater_than_equal"):
        remedy += _turned(place, detail["input"])
    return Fault(place, what, remedy)


def _turned(place: str, value: object) -> str:
    """Guess what a coordinate out of range was meant to be."""
    try:
        degrees = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return ""
    if place == "place.latitude" and abs(degrees) <= 180:
        return "; latitude and longitude may be swapped"
    if place == "place.longitude" and abs(degrees) <= 360:
        return f"; the same meridian is {degrees - math.copysign(360, degrees):g}"
    return ""


def _missing_remedy(loc: Sequence[int | str]) -> str:
    if loc == ("format",):
        return "add format = 'sidon-study/1' as the first line"
    if len(loc) == 1 and loc[0] in _CUT_SHORT:
        return "add it; if it was there once, the file may be cut short: restore it"
    return "add it"


def _keys(model: type[BaseModel], loc: Sequence[int | str]) -> list[str]:
    """Known keys of the table at `loc`: follow the annotations down from the top."""
    current: object = model
    for part in loc:
        if isinstance(part, int) or not _is_model(current):
            continue
        field = typing.cast("type[BaseModel]", current).model_fields.get(str(part))
        current = _model_within(field.annotation) if field else None
    if not _is_model(current):
        return []
    known = typing.cast("type[BaseModel]", current)
    return [*known.model_fields, *getattr(known, "resolved_keys", ())]


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
