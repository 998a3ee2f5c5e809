"""Tables of guards as a study writes them: every form in its canonical order, none twice."""

from __future__ import annotations

from collections.abc import Mapping

from sidon import _engine
from sidon.exceptions import UnreadableError
from sidon.study.quantity import refuse

__all__ = ["canonical_guards"]


def canonical_guards(guards: object) -> object:
    """Put the keys of a table of guards in canonical order.

    Parameters
    ----------
    guards : object
        What stands in the study; anything but a table is passed on for the schema to refuse.

    Returns
    -------
    object
        The table with canonical keys.

    Raises
    ------
    PydanticCustomError
        When a key is no form, or two keys are the same form.
    """
    if not isinstance(guards, Mapping):
        return guards
    canonical: dict[str, object] = {}
    for key, value in guards.items():
        try:
            form = _engine.canonical_form(str(key))
        except UnreadableError as error:
            refuse(f"{key!r} is not a product form: {error.why}", error.remedy)
        if form in canonical:
            refuse(f"the form {form} has two guards", "keep one of them")
        canonical[form] = value
    return canonical
