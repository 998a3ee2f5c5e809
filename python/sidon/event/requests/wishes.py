"""Wanted frequencies: what makes the search lean towards them, and granting what costs nobody."""

from __future__ import annotations

import dataclasses
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from sidon.event.requests.mover import Mover, waiting

if TYPE_CHECKING:
    import sidon
    from sidon.study.compile import LinkRow

__all__ = ["alike", "grant", "wish_costs", "wishes"]

Alike = tuple[object, ...]

_WISH = 10
"""What a link off the wanted frequencies costs; one outside its preferred ranges costs 1."""


def alike(row: LinkRow) -> Alike:
    """Return what links have in common that may exchange frequencies without breaking a rule."""
    return row.profile, row.zone, frozenset(row.windows), row.preferred, row.incumbent


def wishes(links: Iterable[LinkRow]) -> dict[Alike, frozenset[int]]:
    """Collect the wanted frequencies of links that are alike.

    Parameters
    ----------
    links : iterable of LinkRow
        All links.

    Returns
    -------
    dict of tuple to frozenset of int
        Hertz. Links that are alike share one table of costs, so that the search knows few classes;
        who gets which of their frequencies is settled by `grant`.
    """
    found: dict[Alike, set[int]] = {}
    for row in links:
        if row.wanted_hz is not None:
            found.setdefault(alike(row), set()).add(row.wanted_hz)
    return {key: frozenset(wanted) for key, wanted in found.items()}


def wish_costs(
    candidates: Sequence[int], preferred: Iterable[tuple[int, int]], wanted: frozenset[int]
) -> list[int]:
    """Cost of each candidate: dear off the wanted ones, a little dear outside preferred ranges.

    Parameters
    ----------
    candidates : sequence of int
        Hertz, ascending.
    preferred : sequence of (int, int)
        Ranges in hertz; empty when none is preferred.
    wanted : frozenset of int
        Hertz; those that are no candidates do not count.

    Returns
    -------
    list of int
        One per candidate; empty when all cost the same.
    """
    preferred = list(preferred)
    table = [1 if preferred else 0] * len(candidates)
    for low, high in preferred:
        first, last = bisect_left(candidates, low), bisect_right(candidates, high)
        table[first:last] = [0] * (last - first)
    known = set(candidates) & wanted
    if known:
        table = [
            cost + (_WISH if hz not in known else 0)
            for hz, cost in zip(candidates, table, strict=True)
        ]
    return table if any(table) else []


def grant(links: Sequence[LinkRow], problem: sidon.Problem, result: sidon.Result) -> sidon.Result:
    """Give links the frequencies they want where that costs nobody else service or a wish.

    Parameters
    ----------
    links : sequence of LinkRow
        The links of the problem, in order.
    problem : sidon.Problem
        What was asked.
    result : sidon.Result
        What the search found.

    Returns
    -------
    sidon.Result
        The same links on the air, none of them in breach of a rule that was kept before.

    Notes
    -----
    Links that are alike exchange frequencies; then each link, in order of weight, moves as near to
    its wanted frequency as it can, others making way; see `Mover`.
    """
    if all(row.wanted_hz is None or row.incumbent for row in links):
        return result
    frequencies = [int(hz) for hz in result.frequencies]
    _exchange(links, frequencies)
    if waiting(links, frequencies):
        frequencies = Mover(links, problem, frequencies).done()
    column = np.asarray(frequencies, dtype=np.int64)
    column.flags.writeable = False
    return dataclasses.replace(result, frequencies=column)


def _exchange(links: Sequence[LinkRow], frequencies: list[int]) -> None:
    """Let links that are alike exchange frequencies, so that most stand where they want."""
    stands = {
        (alike(row), hz): i
        for i, (row, hz) in enumerate(zip(links, frequencies, strict=True))
        if hz >= 0 and row.locked_hz is None
    }
    for link in waiting(links, frequencies):
        key, wanted = alike(links[link]), links[link].wanted_hz
        other = stands.get((key, wanted if wanted is not None else -1))
        if other is None or links[other].wanted_hz == wanted:
            continue
        frequencies[link], frequencies[other] = frequencies[other], frequencies[link]
        stands[key, frequencies[link]], stands[key, frequencies[other]] = link, other
