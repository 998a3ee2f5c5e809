"""The cheapest set of links to move so that every conflict loses one of its own, with a bound."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

__all__ = ["Cover", "cheapest_cover"]

_MOST_NODES = 20_000

Conflict = frozenset[int]


@dataclass(frozen=True, slots=True)
class Cover:
    """A hitting set of conflicts.

    Parameters
    ----------
    links : frozenset of int
        At least one of every conflict.
    weight : int
        What they weigh.
    bound : int
        No hitting set weighs less.
    """

    links: frozenset[int]
    weight: int
    bound: int


def cheapest_cover(
    conflicts: Iterable[Conflict], weight: Mapping[int, int], *, most_nodes: int = _MOST_NODES
) -> Cover:
    """Find the lightest set that takes part in every conflict.

    Parameters
    ----------
    conflicts : iterable of frozenset of int
        None of them empty.
    weight : mapping of int to int
        What each link weighs, at least 1.
    most_nodes : int, optional
        When to stop looking for a lighter one.

    Returns
    -------
    Cover
        The lightest where its weight meets its bound.

    Notes
    -----
    Branch and bound over the smallest open conflict; the bound at each node is a packing: conflicts
    pay for their links until none can pay more (the dual of the linear relaxation, ascended once).
    It ends after a fixed number of nodes with what it has: a minimum hitting set is NP-hard (Karp
    1972).
    """
    clauses = _least(conflicts)
    search = _Search(clauses, weight, most_nodes)
    search.descend(frozenset(), frozenset(), 0)
    bound = search.weight if search.nodes <= most_nodes else _packing(clauses, weight)
    return Cover(search.best, search.weight, bound)


def _least(conflicts: Iterable[Conflict]) -> list[Conflict]:
    """Drop every conflict that holds another: whoever solves that one solves it too."""
    kept: list[Conflict] = []
    for conflict in sorted(set(conflicts), key=lambda c: (len(c), sorted(c))):
        if len(kept) > 2_000 or not any(other <= conflict for other in kept):
            kept.append(conflict)
    return kept


def _packing(clauses: list[Conflict], weight: Mapping[int, int]) -> int:
    left: dict[int, int] = {}
    total = 0
    for clause in clauses:
        pays = min(left.get(link, weight[link]) for link in clause)
        if pays:
            total += pays
            for link in clause:
                left[link] = left.get(link, weight[link]) - pays
    return total


def _greedy(clauses: list[Conflict], weight: Mapping[int, int]) -> frozenset[int]:
    """Take the link that solves the most for its weight, again and again; then drop idle ones."""
    left, chosen = list(clauses), []
    while left:
        counts: dict[int, int] = {}
        for clause in left:
            for link in clause:
                counts[link] = counts.get(link, 0) + 1
        best = min(counts, key=lambda link: (-counts[link] / weight[link], link))
        chosen.append(best)
        left = [clause for clause in left if best not in clause]
    kept = set(chosen)
    for link in sorted(chosen, key=lambda link: (-weight[link], link)):
        if all(clause & (kept - {link}) for clause in clauses):
            kept.discard(link)
    return frozenset(kept)


class _Search:
    def __init__(self, clauses: list[Conflict], weight: Mapping[int, int], most_nodes: int) -> None:
        self._clauses = clauses
        self._weights = weight
        self._most_nodes = most_nodes
        self.nodes = 0
        self.best = _greedy(clauses, weight)
        self.weight = sum(weight[link] for link in self.best)

    def descend(self, chosen: frozenset[int], barred: frozenset[int], spent: int) -> None:
        """Try every way on from a partial choice."""
        self.nodes += 1
        if self.nodes > self._most_nodes:
            return
        left = [clause - barred for clause in self._clauses if not clause & chosen]
        if not left:
            if spent < self.weight:
                self.best, self.weight = chosen, spent
            return
        if not all(left):
            return
        left.sort(key=lambda clause: (len(clause), sorted(clause)))
        if spent + _packing(left, self._weights) >= self.weight:
            return
        tried: set[int] = set()
        for link in sorted(left[0], key=lambda link: (self._weights[link], link)):
            self.descend(chosen | {link}, barred | tried, spent + self._weights[link])
            tried.add(link)
