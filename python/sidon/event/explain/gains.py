"""What each relaxation buys, against the best plan of the study as it is."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from sidon.event.explain.relax import Relaxation
from sidon.study.planning import search
from sidon.sweep import Case, Outcome, changed, sweep

if TYPE_CHECKING:
    from sidon.plan import Plan
    from sidon.study import Study

__all__ = ["Bought", "Limits", "better", "gains"]


@dataclass(frozen=True, slots=True)
class Bought:
    """What a relaxation buys.

    Parameters
    ----------
    relaxation : Relaxation
        What is given up.
    required, spares : int
        How many more required links and spares are served; never below nothing, as the plan there
        is stays allowed.
    missing : int
        How many required links are still without a carrier.
    plan : Plan or None
        A checked plan of the relaxed study that shows it; None when it is no better.
    """

    relaxation: Relaxation
    required: int
    spares: int
    missing: int
    plan: Plan | None

    @property
    def text(self) -> str:
        """In one line."""
        if not (self.required or self.spares):
            return f"{self.relaxation.text}: nothing found"
        more = [f"{self.required} more"] if self.required else []
        if self.spares:
            more.append(f"{self.spares} more {'spare' if self.spares == 1 else 'spares'}")
        rest = "all required served" if not self.missing else f"{self.missing} still refused"
        return f"{self.relaxation.text}: {' and '.join(more)} ({rest})"


@dataclass(frozen=True, slots=True)
class Limits:
    """The limits of each search.

    Parameters
    ----------
    seed : int
        Its seed.
    iterations : int, optional
        Its iterations.
    seconds : float, optional
        Its time.
    threads : int, optional
        Its threads.
    """

    seed: int
    iterations: int | None
    seconds: float | None
    threads: int | None


def better(study: Study, plan: Plan, limits: Limits, executor: Executor | None = None) -> Plan:
    """Look for a better plan of the study as it is, as hard as for its relaxations.

    Parameters
    ----------
    study : Study
        What was asked.
    plan : Plan
        The plan there is.
    limits : Limits
        Of each of the two searches.
    executor : concurrent.futures.Executor, optional
        Where to run them.

    Returns
    -------
    Plan
        The better one; the plan there is when none is.
    """
    found = [outcome.plan for outcome in _tried([study], plan, limits, executor)]
    known = [plan, *(other for other in found if other is not None)]
    return min(known, key=counts_of)


def gains(
    study: Study,
    plan: Plan,
    relaxations: Sequence[Relaxation],
    limits: Limits,
    executor: Executor | None = None,
    say: Callable[[str], object] = lambda _: None,
) -> list[Bought]:
    """Try every relaxation, from the plan there is and afresh.

    Parameters
    ----------
    study : Study
        What was asked.
    plan : Plan
        The best plan there is.
    relaxations : sequence of Relaxation
        What could be given up.
    limits : Limits
        Of each of the two searches per relaxation.
    executor : concurrent.futures.Executor, optional
        Where to run them.
    say : callable, optional
        Called with a line of text for each relaxation.

    Returns
    -------
    list of Bought
        Those that buy most first, then the cheapest.
    """
    # Where much changes a fresh search goes further; where little does, the plan there is.
    studies = [changed(study, relaxation.changes) for relaxation in relaxations]
    found: dict[int, list[Plan | None]] = {}
    bought: list[Bought] = []
    for outcome in _tried(studies, plan, limits, executor):
        index = int(dict(outcome.case.labels)["relaxation"])
        plans = found.setdefault(index, [])
        # In the order of the cases, whichever worker was faster.
        plans.insert(0 if outcome.case.start is not None else len(plans), outcome.plan)
        if len(plans) == 2:
            bought.append(_bought(relaxations[index], plan, plans))
            say(f"{len(bought)} of {len(relaxations)}: {bought[-1].text}")
    return sorted(
        bought, key=lambda b: (-b.required, -b.spares, b.relaxation.price, b.relaxation.text)
    )


def counts_of(plan: Plan) -> tuple[int, int]:
    """Rank a plan: required links missing, then spares served, the better the lower.

    Parameters
    ----------
    plan : Plan
        A plan.

    Returns
    -------
    (int, int)
        Missing required links, and minus the spares with a carrier.
    """
    return len(plan.missing), -sum(row.spare for row in plan.document.assignments)


def _tried(
    studies: Sequence[Study], plan: Plan, limits: Limits, executor: Executor | None
) -> Iterator[Outcome]:
    cases = [
        Case(
            labels=(("relaxation", str(index)),),
            study=study,
            seed=limits.seed,
            iterations=limits.iterations,
            seconds=limits.seconds,
            start=start,
            threads=1 if executor is not None and limits.threads is None else limits.threads,
        )
        for index, study in enumerate(studies)
        for start in (plan, None)
    ]
    yield from sweep(cases, executor=executor, task=partial(_if_better, counts_of(plan)))


def _if_better(known: tuple[int, int], case: Case) -> Plan | None:
    """Plan a case; None, without the work of writing it up, when it is no better."""
    found = search(
        case.study,
        seed=case.seed,
        iterations=case.iterations,
        seconds=case.seconds,
        threads=case.threads,
        start=case.start,
    )
    missing, spares = found.counts
    return found.plan() if (missing, -spares) < known else None


def _bought(relaxation: Relaxation, before: Plan, plans: Sequence[Plan | None]) -> Bought:
    missing, spares = counts_of(before)
    best = min((plan for plan in plans if plan is not None), key=counts_of, default=None)
    if best is None:
        return Bought(relaxation, 0, 0, missing, None)
    still, after = counts_of(best)
    return Bought(relaxation, missing - still, max(0, spares - after), still, best)
