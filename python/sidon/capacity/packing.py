"""Packing carriers beside others: lift a few of a clean plan and fill up again."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from sidon.heuristics import Run, State

__all__ = ["Packing"]

_MOST_LIFTED = 6


class Packing:
    """A heuristic for `sidon.solve`: large neighbourhood search (Shaw 1998) on clean plans.

    Parameters
    ----------
    kinds : sequence of range
        The links of each kind, in the order in which they are served.

    Notes
    -----
    No rule is ever broken: links go only where the row of the cost table says 0. A step lifts the
    links of a stretch of spectrum, or links drawn by lot, fills up kind by kind, and is taken back
    if a kind lost more than those before it gained. That packs dense plans, of a hundred carriers
    with few guards, better than repairing broken ones does.
    """

    def __init__(self, kinds: Sequence[range]) -> None:
        self._kinds = kinds
        self._links = [link for links in kinds for link in links]

    def __call__(self, state: State, run: Run, /) -> None:
        """Search until the budget is spent or every link is served."""
        for links in self._kinds:
            self._fill(state, links, run, first=True)
        run.offer(state)
        while run.tick() and any(state.choice(link) is None for link in self._links):
            kept, served = state.snapshot(), self._served(state)
            for link in self._chosen(state, run):
                state.lift(link)
            for links in self._kinds:
                self._fill(state, links, run, first=bool(run.random.integers(2)))
            if self._served(state) < served:
                state.restore(kept)
            else:
                run.offer(state)

    def _served(self, state: State) -> list[int]:
        return [sum(state.choice(link) is not None for link in links) for links in self._kinds]

    @staticmethod
    def _fill(state: State, links: range, run: Run, *, first: bool) -> None:
        """Place what is off wherever it is clean: at the lowest such frequency, or by lot."""
        for link in links:
            if state.choice(link) is not None:
                continue
            clean = np.flatnonzero(state.cost(link) == 0)
            if not len(clean):
                return
            state.place(link, int(clean[0] if first else run.random.choice(clean)))

    def _chosen(self, state: State, run: Run) -> list[int]:
        """Choose a few placed links: neighbours in frequency, or by lot."""
        frequencies = state.frequencies()
        placed = np.array([link for link in self._links if frequencies[link] >= 0], dtype=np.int64)
        count = min(len(placed), int(run.random.integers(1, _MOST_LIFTED + 1)))
        if not count:
            return []
        if run.random.integers(2):
            order = placed[np.argsort(frequencies[placed], kind="stable")]
            begin = int(run.random.integers(len(placed) - count + 1))
            return [int(link) for link in order[begin : begin + count]]
        return [int(link) for link in run.random.choice(placed, count, replace=False)]
