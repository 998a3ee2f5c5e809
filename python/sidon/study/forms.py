"""Tables of guards as a study writes them: every form in its canonical order, none twice."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from pydantic import BeforeValidator

from sidon import _engine
from sidon._quantity import Distance, refuse
from sidon.exceptions import UnreadableError

__all__ = ["Form", "Guard", "without_repeats"]


@dataclass(frozen=True)
class _Again:
    """Stands for the guard of a form that has one already."""

    form: str


def without_repeats(guards: object) -> object:
    """Mark the guards of forms that have one already, under whatever order of letters.

    Parameters
    ----------
    guards : object
        What stands in the study; anything but a table is passed on for the schema to refuse.

    Returns
    -------
    object
        The table; a mark where a form is repeated, which `Guard` refuses at its own place.
    """
    if not isinstance(guards, Mapping):
        return guards
    seen: set[str] = set()
    marked: dict[object, object] = {}
    for key, value in guards.items():
        try:
            form = _engine.canonical_form(str(key))
        except UnreadableError:
            marked[key] = value
            continue
        marked[key] = _Again(form) if form in seen else value
        seen.add(form)
    return marked


def _canonical(key: object) -> str:
    try:
        return _engine.canonical_form(str(key))
    except UnreadableError as error:
        refuse(f"{key!r} is not a product form: {error.why}", error.remedy)


def _once(guard: object) -> object:
    if isinstance(guard, _Again):
        refuse(f"the form {guard.form} has two guards", "keep one of them")
    return guard


Form = Annotated[str, BeforeValidator(_canonical)]
"""A product form in canonical order."""
Guard = Annotated[Distance, BeforeValidator(_once)]
"""A guard in hertz, the only one of its form."""
