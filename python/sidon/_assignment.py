"""Assignments in every form a caller may hold them, as one column."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, TypeAlias

from sidon._arrays import frequency_column
from sidon._options import raise_if
from sidon.exceptions import Fault
from sidon.result import REFUSED, Result, Snapshot

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from sidon._arrays import Frequencies
    from sidon.problem import Problem

__all__ = ["Assignment", "assignment_column"]

Assignment: TypeAlias = (
    "Result | Snapshot | Mapping[str, int | None] | Frequencies | Sequence[int | None]"
)


def assignment_column(
    problem: Problem, frequencies: Assignment, place: str = "frequencies"
) -> NDArray[np.int64]:
    """Hertz in the order of the links, -1 for none.

    Parameters
    ----------
    problem : Problem
        Whose links these are.
    frequencies : Result, Snapshot, mapping or array
        The assignment in any of its forms.
    place : str, optional
        What it is called in errors.

    Returns
    -------
    numpy.ndarray
        int64.

    Raises
    ------
    InvalidProblemError
        A name or a value is none; every one is listed.
    """
    values: Any = frequencies
    if isinstance(frequencies, Result | Snapshot):
        return frequencies.frequencies
    if isinstance(frequencies, Mapping):
        ids = problem.link_ids
        known = set(ids)
        raise_if(
            [
                Fault(f"{place}[{name!r}]", "there is no such link", "see Problem.link_ids")
                for name in frequencies
                if name not in known
            ]
        )
        values = [frequencies.get(name) for name in ids]
    if isinstance(values, list | tuple):
        values = [REFUSED if hz is None else hz for hz in values]
    return frequency_column(values, place)
