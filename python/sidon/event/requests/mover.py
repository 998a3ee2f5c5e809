"""Moving links nearer to the frequencies they want, others making way to clear ones."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    import sidon
    from sidon.study.compile import LinkRow

__all__ = ["Mover", "waiting"]

_MOST_MOVED = 4
_PASSES = 3
_MOST_TRIALS = 60
"""Frequencies tried for one link in one pass while others would have to make way."""

_APART_HZ = 25_000
"""Of frequencies nearer together one is tried: mostly the same stands in the way of them."""

_MOST_TRIALS_IN_ALL = 6_000
"""The same for all links together: a number, not a time, so that equal seeds give equal plans."""


_OFF_HZ = 1_000_000
"""How much being off the wanted frequency at all weighs beside the distance to it."""


def waiting(links: Sequence[LinkRow], frequencies: Sequence[int]) -> list[int]:
    """List served links off their wanted frequency.

    Parameters
    ----------
    links : sequence of LinkRow
        All links.
    frequencies : sequence of int
        Hertz; negative when refused.

    Returns
    -------
    list of int
        Heaviest first.
    """
    off = [
        i
        for i, (row, hz) in enumerate(zip(links, frequencies, strict=True))
        if row.wanted_hz is not None and row.locked_hz is None and hz >= 0 and hz != row.wanted_hz
    ]
    return sorted(off, key=lambda i: (-links[i].weight, i))


def _away(hz: int, wanted: int) -> int:
    return abs(hz - wanted) + _OFF_HZ if hz != wanted else 0


class Mover:
    """A plan whose links are moved one by one, each move kept only if it breaks nothing.

    Parameters
    ----------
    links : sequence of LinkRow
        The links of the problem, in order.
    problem : sidon.Problem
        What was asked.
    frequencies : sequence of int
        Where they stand, hertz; negative when refused.

    Notes
    -----
    Each link, in order of weight, tries what it can tune from the wanted frequency outwards, and
    takes the first that is clear or that at most four others can clear. Those that want nothing
    go where it costs them nothing; those that are lighter wherever is clear. Between links that
    want something what counts is the sum of weight times distance to what they want, being off
    it at all counting like one more megahertz; who stands where it wants to is moved for heavier
    links only.
    """

    def __init__(
        self, links: Sequence[LinkRow], problem: sidon.Problem, frequencies: Sequence[int]
    ) -> None:
        import sidon

        self._links = links
        self._state = sidon.State(problem)
        self._state.restore(np.asarray(frequencies, dtype=np.int64))
        self._clear = self._state.total < self._state.HARD
        self._trials = _MOST_TRIALS_IN_ALL

    def done(self) -> list[int]:
        """Move whom it helps, and return where all stand."""
        # A plan with broken rules is not touched: nothing could be told clear in it.
        for _ in range(_PASSES if self._clear else 0):
            moved = [self._approach(link) for link in waiting(self._links, self._now())]
            if not any(moved):
                break
        return self._now()

    def _now(self) -> list[int]:
        return [int(hz) for hz in self._state.frequencies()]

    def _approach(self, link: int) -> bool:
        """Move a link to the nearest frequency that is clear or can be cleared."""
        state, wanted = self._state, self._links[link].wanted_hz
        if wanted is None:
            return False
        former = state.lift(link)
        hertz, cost = state.candidates(link), state.cost(link).copy()
        state.place(link, former)
        away = np.abs(hertz - wanted)
        # Nearer, but, the wanted one apart, never into noise or out of a preferred range.
        no_dearer = (cost % state.HARD <= cost[former] % state.HARD) | (away == 0)
        nearer = np.flatnonzero((away < away[former]) & no_dearer)
        tried: set[int] = set()
        for at in nearer[np.argsort(away[nearer], kind="stable")].tolist():
            if cost[at] < state.HARD:
                state.lift(link)
                state.place(link, at)
                return True
            # The wanted one is tried whatever lies near it: it comes first.
            place = int(hertz[at]) // _APART_HZ
            if place in tried or len(tried) == _MOST_TRIALS or not self._trials:
                continue
            tried.add(place)
            self._trials -= 1
            if self._clear_for(link, at, exact=bool(away[at] == 0)):
                return True
        return False

    def _clear_for(self, link: int, at: int, *, exact: bool) -> bool:
        """Put a link where others stand in its way, if they can make way."""
        state, kept = self._state, self._state.snapshot()
        before = state.frequencies()
        state.lift(link)
        state.place(link, at)
        way = self._make_way(link)
        if way is not None and all(
            self._settle(other, former, link, exact=exact) for other, former in way.items()
        ):
            moved = [link, *way]
            after = state.frequencies()
            if state.total < state.HARD and (exact or self._better(moved, before, after)):
                return True
        state.restore(kept)
        return False

    def _better(
        self, moved: Sequence[int], before: NDArray[np.int64], after: NDArray[np.int64]
    ) -> bool:
        """Tell whether those that moved are nearer to what they want, each by its weight."""
        change = 0
        for i in moved:
            row = self._links[i]
            if row.wanted_hz is not None:
                far, was = (_away(int(hertz[i]), row.wanted_hz) for hertz in (after, before))
                change += row.weight * (far - was)
        return change < 0

    def _make_way(self, link: int) -> dict[int, int] | None:
        """Take off the links in the way, with where they stood; None when they must stay."""
        broken = self._state.conflicts(link)
        way: dict[int, int] = {}
        while broken:
            counts: dict[int, int] = {}
            for other in (other for rule in broken for other in rule):
                counts[other] = counts.get(other, 0) + 1
            free = [other for other in counts if self._may_move(other, link)]
            if not free or len(way) == _MOST_MOVED:
                return None
            most = max(free, key=lambda other: (counts[other], -self._links[other].weight, -other))
            way[most] = self._state.lift(most)
            broken = [rule for rule in broken if most not in rule]
        return way

    def _may_move(self, other: int, link: int) -> bool:
        row = self._links[other]
        if other == link or row.locked_hz is not None or row.incumbent:
            return False
        choice = self._state.choice(other)
        granted = choice is not None and self._state.candidates(other)[choice] == row.wanted_hz
        return not granted or row.weight < self._links[link].weight

    def _settle(self, other: int, former: int, link: int, *, exact: bool) -> bool:
        """Put a link that made way on the cheapest clear frequency, the nearest to its wish."""
        state, cost = self._state, self._state.cost(other)
        if not cost.size or cost.min() >= state.HARD:
            return False
        lighter = self._links[other].weight < self._links[link].weight
        if not (exact or lighter) and cost.min() > cost[former] % state.HARD:
            return False
        best = np.flatnonzero(cost == cost.min())
        wanted = self._links[other].wanted_hz
        if wanted is not None:
            best = best[np.argsort(np.abs(state.candidates(other)[best] - wanted), kind="stable")]
        state.place(other, int(best[0]))
        return True
