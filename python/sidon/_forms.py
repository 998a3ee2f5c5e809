"""Product forms as a caller writes them: as text, or by their coefficients."""

from __future__ import annotations

import operator
from typing import SupportsIndex

import numpy as np

from sidon import _engine
from sidon.exceptions import Fault, InvalidProblemError, UnreadableError

__all__ = ["canonical_form"]

_LARGE = 2**31


def canonical_form(form: object, place: str) -> str:
    """Read a product form, from its text or from its coefficients.

    Parameters
    ----------
    form : str or sequence of int
        ``"2A-B"``, or ``(2, -1)``: whole coefficients that sum to 1, up to ninth order.
    place : str
        What it is called in errors.

    Returns
    -------
    str
        The canonical text.

    Raises
    ------
    InvalidProblemError
        It is no form.
    """
    try:
        if isinstance(form, str):
            return _engine.canonical_form(form)
        if isinstance(form, tuple | list | np.ndarray) and all(map(_is_whole, form)):
            return _engine.form_of_coefficients([_narrow(operator.index(m)) for m in form])
    except UnreadableError as error:
        raise InvalidProblemError([Fault(place, error.why, error.remedy)]) from None
    what = f"{form!r} is no product form"
    remedy = "write it as '2A-B' or 'A+B-C', or as whole coefficients: (2, -1) or (1, 1, -1)"
    raise InvalidProblemError([Fault(place, what, remedy)])


def _is_whole(value: object) -> bool:
    return isinstance(value, SupportsIndex) and not isinstance(value, bool | np.bool_)


def _narrow(value: int) -> int:
    """Keep within the engine's integers what is far above any order as it is."""
    return max(-_LARGE, min(value, _LARGE))
