"""Wanted frequencies: what makes the search lean towards them, and granting what costs nobody."""

from __future__ import annotations

import dataclasses
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import sidon
    from sidon.study.compile import LinkRow

__all__ = ["alike", "grant", "wish_costs", "wishes"]

Alike = tuple[object, ...]

_WISH = 10
"""What a link off the wanted frequencies costs; one outside its preferred ranges costs 1."""

_MOST_MOVED = 4
_PASSES = 2


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
    Links that are alike exchange frequencies; then each link, in order of weight, moves to its
    wanted frequency if that is clear or if at most four others can make way to clear ones; then
    what was not granted moves to the clear frequency nearest to the wanted one.
    """
    if all(row.wanted_hz is None or row.incumbent for row in links):
        return result
    frequencies = [int(hz) for hz in result.frequencies]
    _exchange(links, frequencies)
    if _waiting(links, frequencies):
        frequencies = _Mover(links, problem, frequencies).done()
    column = np.asarray(frequencies, dtype=np.int64)
    column.flags.writeable = False
    return dataclasses.replace(result, frequencies=column)


def _waiting(links: Sequence[LinkRow], frequencies: Sequence[int]) -> list[int]:
    """List served links off their wanted frequency, heaviest first."""
    off = [
        i
        for i, (row, hz) in enumerate(zip(links, frequencies, strict=True))
        if row.wanted_hz is not None and row.locked_hz is None and hz >= 0 and hz != row.wanted_hz
    ]
    return sorted(off, key=lambda i: (-links[i].weight, i))


def _exchange(links: Sequence[LinkRow], frequencies: list[int]) -> None:
    """Let links that are alike exchange frequencies, so that most stand where they want."""
    stands = {
        (alike(row), hz): i
        for i, (row, hz) in enumerate(zip(links, frequencies, strict=True))
        if hz >= 0 and row.locked_hz is None
    }
    for link in _waiting(links, frequencies):
        key, wanted = alike(links[link]), links[link].wanted_hz
        other = stands.get((key, wanted if wanted is not None else -1))
        if other is None or links[other].wanted_hz == wanted:
            continue
        frequencies[link], frequencies[other] = frequencies[other], frequencies[link]
        stands[key, frequencies[link]], stands[key, frequencies[other]] = link, other


class _Mover:
    """A plan whose links are moved one by one, each move kept only if it breaks nothing."""

    def __init__(
        self, links: Sequence[LinkRow], problem: sidon.Problem, frequencies: Sequence[int]
    ) -> None:
        import sidon

        self._links = links
        self._state = sidon.State(problem)
        self._state.restore(np.asarray(frequencies, dtype=np.int64))
        self._clear = self._state.total < self._state.HARD

    def done(self) -> list[int]:
        # A plan with broken rules is not touched: nothing could be told clear in it.
        for _ in range(_PASSES if self._clear else 0):
            moved = False
            for link in _waiting(self._links, self._now()):
                if self._to_wanted(link) or self._nearer(link):
                    moved = True
            if not moved:
                break
        return self._now()

    def _now(self) -> list[int]:
        return [int(hz) for hz in self._state.frequencies()]

    def _nearer(self, link: int) -> bool:
        """Move to the clear frequency nearest to the wanted one."""
        wanted = self._links[link].wanted_hz
        if wanted is None:
            return False
        former = self._state.lift(link)
        candidates = self._state.candidates(link)
        cost = self._state.cost(link)
        # Nearer, but never into noise or out of a preferred range.
        clear = np.flatnonzero((cost < self._state.HARD) & (cost <= cost[former]))
        at = former
        if clear.size:
            at = int(clear[np.argmin(np.abs(candidates[clear] - wanted))])
            if abs(int(candidates[at]) - wanted) >= abs(int(candidates[former]) - wanted):
                at = former
        self._state.place(link, at)
        return at != former

    def _to_wanted(self, link: int) -> bool:
        candidates, wanted = self._state.candidates(link), self._links[link].wanted_hz
        if wanted is None:
            return False
        at = int(np.searchsorted(candidates, wanted))
        if at == len(candidates) or int(candidates[at]) != wanted:
            return False
        state, kept = self._state, self._state.snapshot()
        state.lift(link)
        state.place(link, at)
        way = self._make_way(link)
        if way is not None and all(self._settle(other) for other in way):
            made: bool = state.total < state.HARD
            if made:
                return True
        state.restore(kept)
        return False

    def _make_way(self, link: int) -> list[int] | None:
        """Take off the links that stand in the way; None when they must stay or are too many."""
        broken = self._state.conflicts(link)
        way: list[int] = []
        while broken:
            counts: dict[int, int] = {}
            for other in (other for rule in broken for other in rule):
                counts[other] = counts.get(other, 0) + 1
            free = [other for other in counts if self._may_move(other, link)]
            if not free or len(way) == _MOST_MOVED:
                return None
            most = max(free, key=lambda other: (counts[other], -self._links[other].weight, -other))
            self._state.lift(most)
            way.append(most)
            broken = [rule for rule in broken if most not in rule]
        return way

    def _may_move(self, other: int, link: int) -> bool:
        row = self._links[other]
        if row.locked_hz is not None or row.incumbent:
            return False
        choice = self._state.choice(other)
        granted = choice is not None and self._state.candidates(other)[choice] == row.wanted_hz
        return not granted or row.weight < self._links[link].weight

    def _settle(self, link: int) -> bool:
        """Put a link on the cheapest clear frequency, the nearest to the one it wants."""
        cost = self._state.cost(link)
        if not cost.size or cost.min() >= self._state.HARD:
            return False
        best = np.flatnonzero(cost == cost.min())
        wanted = self._links[link].wanted_hz
        if wanted is not None:
            best = best[
                np.argsort(np.abs(self._state.candidates(link)[best] - wanted), kind="stable")
            ]
        self._state.place(link, int(best[0]))
        return True
