"""The outcomes of a sweep as a table."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sidon._columns import Columns
from sidon.sweep.run import Outcome

__all__ = ["best", "columns"]

_MISSING = -1


def columns(outcomes: Iterable[Outcome]) -> Columns:
    """Return the outcomes of planned cases as columns, one row each.

    Parameters
    ----------
    outcomes : iterable of Outcome
        What a sweep handed over.

    Returns
    -------
    Columns
        A dict of numpy arrays: one column of text for each axis; ``seed`` (uint64);
        ``required_served``, ``required_asked``, ``spares_served``, ``spares_asked`` (int64, -1
        where there is no plan); ``complete`` (bool); ``status``, ``stop_reason`` and ``error``
        (text); ``elapsed_s``.
    """
    rows = list(outcomes)
    axes = list(dict.fromkeys(axis for row in rows for axis, _ in row.case.labels))
    served = [_served(row) for row in rows]
    table: dict[str, NDArray[Any]] = {
        axis: np.array([dict(row.case.labels).get(axis, "") for row in rows], dtype=np.str_)
        for axis in axes
    }
    table["seed"] = np.array([row.case.seed for row in rows], dtype=np.uint64)
    for index, name in enumerate(_COUNTS):
        table[name] = np.array([counts[index] for counts in served], dtype=np.int64)
    table["complete"] = np.array([row.plan is not None and row.plan.complete for row in rows], bool)
    table["status"] = np.array([_searched(row, "status") for row in rows], dtype=np.str_)
    table["stop_reason"] = np.array([_searched(row, "stop_reason") for row in rows], dtype=np.str_)
    table["error"] = np.array([row.error or "" for row in rows], dtype=np.str_)
    table["elapsed_s"] = np.array([row.elapsed_s for row in rows], dtype=np.float64)
    return Columns(table)


_COUNTS = ("required_served", "required_asked", "spares_served", "spares_asked")


def best(outcomes: Iterable[Outcome]) -> dict[tuple[tuple[str, str], ...], Outcome]:
    """Keep the best outcome of each combination, over all seeds.

    Parameters
    ----------
    outcomes : iterable of Outcome
        What a sweep handed over.

    Returns
    -------
    dict of labels to Outcome
        Most required links served, then most spares, then the lowest seed; in the order of the
        cases' names.
    """
    kept: dict[tuple[tuple[str, str], ...], Outcome] = {}
    for row in outcomes:
        there = kept.get(row.case.labels)
        if there is None or _rank(row) > _rank(there):
            kept[row.case.labels] = row
    return dict(sorted(kept.items()))


def _rank(row: Outcome) -> tuple[int, int, int]:
    required, _, spares, _ = _served(row)
    return required, spares, -row.case.seed


def _served(row: Outcome) -> tuple[int, int, int, int]:
    if row.plan is None:
        return (_MISSING,) * 4
    document = row.plan.document
    spares = sum(assignment.spare for assignment in document.assignments)
    required = len(document.assignments) - spares
    return required, len(document.asked.required), spares, len(document.asked.spares)


def _searched(row: Outcome, key: str) -> str:
    search = row.plan.document.search if row.plan is not None else None
    return str(getattr(search, key)) if search is not None else ""
