"""Searching a plan for a study, and the plan that a search found."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sidon.event.requests.wishes import grant
from sidon.study.answer import plan_document

if TYPE_CHECKING:
    import sidon
    from sidon.heuristics import AnyMethod
    from sidon.plan import Plan
    from sidon.study import Study

__all__ = ["Found", "search"]


@dataclass(frozen=True)
class Found:
    """What a search came to; writing it up takes a recount and the reasons of refusals.

    Parameters
    ----------
    study : Study
        What was asked.
    problem : sidon.Problem
        The same for the engine.
    result : sidon.Result
        What the engine answered.
    method : str
        The method that found it.
    iterations, seconds : int, float, optional
        The limits it was given.
    """

    study: Study
    problem: sidon.Problem
    result: sidon.Result
    method: str
    iterations: int | None
    seconds: float | None

    @property
    def counts(self) -> tuple[int, int]:
        """How many required links have no carrier, and how many spares have one."""
        rows = list(zip(self.study.compiled.links, self.result.frequencies.tolist(), strict=True))
        missing = sum(hz < 0 for row, hz in rows if not (row.incumbent or row.spare))
        return missing, sum(hz >= 0 for row, hz in rows if row.spare)

    def plan(self) -> Plan:
        """Write the plan and check it.

        Returns
        -------
        Plan
            Recounted independently of the search.
        """
        from sidon.plan import Plan

        compiled = self.study.compiled
        document = plan_document(
            self.study.model,
            compiled,
            self.problem,
            grant(compiled.links, self.problem, self.result),
            method=self.method,
            iterations=self.iterations,
            seconds=self.seconds,
        )
        plan = Plan(document)
        plan.check()
        return plan


def search(
    study: Study,
    *,
    seed: int = 0,
    seconds: float | None = None,
    iterations: int | None = None,
    threads: int | None = None,
    progress: Callable[[sidon.Event], object] | None = None,
    method: AnyMethod = "local-search",
    start: Plan | None = None,
) -> Found:
    """Search for the carriers of a study; the arguments are those of `Study.plan`.

    Returns
    -------
    Found
        The best of the search.
    """
    import sidon
    from sidon._registry import method_name
    from sidon.solve import DEFAULT_SECONDS

    if seconds is None and iterations is None:
        seconds = DEFAULT_SECONDS
    problem = study.problem()
    result = sidon.solve(
        problem,
        objective="max-service",
        method=method,
        seed=seed,
        seconds=seconds,
        iterations=iterations,
        threads=threads,
        progress=progress,
        start=None if start is None else _standing(study, start),
    )
    return Found(study, problem, result, method_name(method), iterations, seconds)


def _standing(study: Study, plan: Plan) -> list[int | None]:
    """List where a plan puts each link, as far as this study lets it stand there."""
    compiled = study.compiled
    hertz = {row.link: row.frequency_hz for row in plan.document.assignments}
    standing: list[int | None] = []
    for row in compiled.links:
        there = row.locked_hz if row.locked_hz is not None else hertz.get(row.id)
        own = row.incumbent or (there is not None and there in compiled.tunings[row.profile])
        standing.append(there if own else None)
    return standing
