"""One benchmark instance: a problem, what is asked of it, and the best value known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeVar

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sidon._options import Objective
    from sidon.problem import Problem
    from sidon.result import Report
    from sidon.solve import Event

_Count = TypeVar("_Count", int, "NDArray[np.int64]")

__all__ = ["Instance", "Measure"]

Measure = Literal["span", "channels", "order", "cost", "hard", "served"]
"""How an answer is counted, in the terms of the family's literature."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Instance:
    """A problem of a benchmark family.

    Attributes
    ----------
    name : str
        The name in the literature; with the number of channels where that is part of the question.
    problem : Problem
        In the family's own units, one channel a hertz.
    objective : str
        Objective that `sidon.solve` is given.
    measure : str
        ``"span"`` (highest less lowest frequency), ``"channels"`` (span + 1), ``"order"`` (distinct
        frequencies), ``"cost"`` (soft cost), ``"hard"`` (rules broken) or ``"served"`` (links).
    best_known : int or None
        Best value known, in that measure.
    """

    name: str
    problem: Problem
    objective: Objective
    measure: Measure
    best_known: int | None = None

    def value(self, frequencies: NDArray[np.int64], report: Report) -> int | None:
        """Count an answer from its frequencies and its check; None where it does not count.

        Parameters
        ----------
        frequencies : numpy.ndarray
            Hertz for each link, -1 where it has no carrier.
        report : Report
            The independent check of the same answer.

        Returns
        -------
        int or None
            The value; None when a hard rule is broken, or a link that must be served is not.
        """
        if self.measure == "hard":
            return report.hard if report.refused == 0 else None
        if report.hard > 0:
            return None
        if self.measure == "served":
            return len(frequencies) - report.refused
        if report.refused > 0:
            return None
        if self.measure == "cost":
            return report.soft
        if self.measure == "order":
            return len(np.unique(frequencies))
        span = int(frequencies.max() - frequencies.min()) if len(frequencies) else 0
        return span + 1 if self.measure == "channels" else span

    @property
    def counted(self) -> str:
        """The column of a trace, and attribute of an `Event`, that is measured."""
        return {"cost": "soft", "hard": "hard", "served": "refused"}.get(self.measure, "objective")

    def measured(self, counted: _Count) -> _Count:
        """Turn what was counted in a run into this measure.

        Parameters
        ----------
        counted : int or numpy.ndarray
            What `counted` names.

        Returns
        -------
        int or numpy.ndarray
            The same as ``"channels"``, ``"served"`` and so on.
        """
        if self.measure == "served":
            return len(self.problem) - counted
        return counted + 1 if self.measure == "channels" else counted

    def is_met(self, event: Event) -> bool:
        """Tell whether the best plan so far of a run has the best value known.

        Parameters
        ----------
        event : Event
            What a run reports of its best plan.

        Returns
        -------
        bool
            False while no plan counts, or no value is known.
        """
        counts = event.objective is not None and (self.measure == "hard" or not event.hard)
        if not counts or self.best_known is None:
            return False
        gap = self.gap(self.measured(int(getattr(event, self.counted))))
        return gap is not None and gap <= 0

    def bound(self, lower_bound: int) -> int:
        """Turn the proved bound of a run into a bound of this measure.

        Parameters
        ----------
        lower_bound : int
            `Result.lower_bound`.

        Returns
        -------
        int
            No answer is below it; above it, for ``"served"``.
        """
        return self.measured(lower_bound)

    def gap(self, value: int | None) -> float | None:
        """Return how far a value is from the best known, in per cent of it.

        Parameters
        ----------
        value : int or None
            A value of this instance.

        Returns
        -------
        float or None
            0 when equal, negative when better; None when either value is missing. Where the best
            known value is 0, the value itself times 100.
        """
        if value is None or self.best_known is None:
            return None
        worse = value - self.best_known
        if self.measure == "served":
            worse = -worse
        return 100.0 * worse / max(abs(self.best_known), 1)
