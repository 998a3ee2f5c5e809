"""Cost tables of a problem from arrays: which link takes which, in the order of its candidates."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sidon._arrays import NO_VALUES, FaultList, integer_column

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from sidon._arrays import Frequencies

__all__ = ["cost_tables"]

NONE = -1
"""Stands for "no cost table" in a column of indices."""


def cost_tables(
    domains: Sequence[NDArray[np.int64]],
    link_domain: Sequence[int],
    costs: Sequence[ArrayLike] | NDArray[np.integer[Any]],
    link_costs: ArrayLike | Frequencies | None,
) -> tuple[list[NDArray[np.int64]], list[int | None]]:
    """Read cost tables, and put each in the ascending order that the engine reads.

    Parameters
    ----------
    domains : sequence of numpy.ndarray
        Frequencies in hertz, in the order of the caller.
    link_domain : sequence of int
        For each link, the index of its domain.
    costs : sequence of array
        Tables in the same order as the domains they go with.
    link_costs : array of int, optional
        For each link, the index of its table; -1 for none.

    Returns
    -------
    tuple of list
        The tables, and for each link the index of its table or None.

    Raises
    ------
    InvalidProblemError
        A table does not fit, or it is not said which link takes which; every fault is listed.
    """
    faults = FaultList()
    tables = [
        faults.take(NO_VALUES, integer_column, table, f"costs[{i}]")
        for i, table in enumerate(costs)
    ]
    which = _choices(len(tables), len(link_domain), link_costs, faults)
    faults.raise_if_any()
    known: dict[tuple[int, int], int] = {}
    chosen: list[int | None] = []
    for link, table in enumerate(which):
        if table == NONE:
            chosen.append(None)
            continue
        domain = link_domain[link] if link < len(link_domain) else NONE
        sound = 0 <= table < len(tables) and 0 <= domain < len(domains)
        if sound and not bool(np.all(np.diff(domains[domain]) > 0)):
            key = (domain, table)
            if key not in known:
                known[key] = len(tables)
                tables.append(
                    faults.take(NO_VALUES, _sorted, domains[domain], tables[table], table)
                )
            table = known[key]
        # An index that is out of range is for the engine to refuse.
        chosen.append(table)
    faults.raise_if_any()
    return tables, chosen


def _choices(
    tables: int, links: int, link_costs: ArrayLike | Frequencies | None, faults: FaultList
) -> list[int]:
    if link_costs is not None:
        column: list[int] = faults.take(
            NO_VALUES, integer_column, link_costs, "link_costs"
        ).tolist()
        return column
    if tables == 0:
        return [NONE] * links
    if tables == 1:
        return [0] * links
    if tables != links:
        remedy = "say in link_costs which link takes which"
        faults.add("costs", f"{tables} tables for {links} links", remedy)
    return list(range(links))


def _sorted(domain: NDArray[np.int64], table: NDArray[np.int64], which: int) -> NDArray[np.int64]:
    """Put a table in ascending order of the frequencies, each once."""
    faults, place = FaultList(), f"costs[{which}]"
    if len(table) != len(domain):
        what = f"{len(table)} entries for a domain of {len(domain)} frequencies"
        faults.add(place, what, "give one per frequency, in the same order")
        faults.raise_if_any()
    _, first, back = np.unique(domain, return_index=True, return_inverse=True)
    ascending: NDArray[np.int64] = table[first]
    if not np.array_equal(ascending[back], table):
        twice = int(domain[np.flatnonzero(ascending[back] != table)[0]])
        faults.add(place, f"{twice} Hz stands twice with two costs", "give each frequency once")
        faults.raise_if_any()
    return ascending
