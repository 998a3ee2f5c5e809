"""Why not everything fits, and what would help: a conflict, and what each relaxation buys."""

from __future__ import annotations

import html
import time
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sidon._columns import Columns
from sidon.event.explain.conflict import Conflict, find_conflict
from sidon.event.explain.fits import Effort
from sidon.event.explain.relax import Relaxation, relaxations
from sidon.sweep import Case, Outcome, changed, sweep

if TYPE_CHECKING:
    from sidon.plan import Plan
    from sidon.study import Study

__all__ = ["Bought", "Explanation", "explain"]

_USUAL_SECONDS = 20.0
_CONFLICT_SHARE = 0.4
_LEAST_SECONDS = 0.2


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
    fresh : bool
        Whether a search from nothing found it; else one that began with the plan there is.
    """

    relaxation: Relaxation
    required: int
    spares: int
    missing: int
    plan: Plan | None
    fresh: bool

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


@dataclass(frozen=True, slots=True, repr=False)
class Explanation:
    """Why a study does not fit, and the cheapest ways out. Immutable; pickles.

    Parameters
    ----------
    study : str
        The name of the study.
    plan : Plan
        The plan that is explained.
    missing, missing_spares : int
        Required links and spares without a carrier in it.
    conflict : Conflict or None
        Links and rules that cannot hold together; None when nothing was found.
    bought : tuple of Bought
        Every relaxation tried, those that buy most first, then the cheapest.
    """

    study: str
    plan: Plan
    missing: int
    missing_spares: int
    conflict: Conflict | None
    bought: tuple[Bought, ...]

    @property
    def text(self) -> str:
        """The whole explanation in words."""
        if not (self.missing or self.missing_spares):
            return "Everything fits; there is nothing to explain."
        lines = [f"{self.missing} required links and {self.missing_spares} spares do not fit."]
        if self.conflict is not None:
            lines += ["", self.conflict.text]
        helpful = [row for row in self.bought if row.required or row.spares]
        lines += ["", f"What would help ({len(self.bought)} relaxations tried, one at a time):"]
        lines += [f"  {row.text}" for row in helpful]
        if not helpful:
            lines.append("  none of them alone, as far as the search found")
        for condition in dict.fromkeys(row.relaxation.condition for row in helpful):
            named = [
                row.relaxation.text for row in helpful if row.relaxation.condition == condition
            ]
            lines += ["", f"{condition[0].upper()}{condition[1:]}:", *(f"  {n}" for n in named)]
        return "\n".join(lines)

    def columns(self) -> Columns:
        """Return the relaxations as columns.

        Returns
        -------
        Columns
            ``relaxation``, ``required`` and ``spares`` (how many more), ``missing``,
            ``condition``.
        """
        rows = self.bought
        return Columns(
            {
                "relaxation": np.array([row.relaxation.text for row in rows], dtype=np.str_),
                "required": np.array([row.required for row in rows], dtype=np.int64),
                "spares": np.array([row.spares for row in rows], dtype=np.int64),
                "missing": np.array([row.missing for row in rows], dtype=np.int64),
                "condition": np.array([row.relaxation.condition for row in rows], dtype=np.str_),
            }
        )

    def __repr__(self) -> str:
        gains = sum(row.required > 0 for row in self.bought)
        held = f"{self.conflict.size} links in conflict" if self.conflict else "no conflict found"
        return f"Explanation({self.study!r}: {self.missing} missing, {held}, {gains} ways to more)"

    def _repr_html_(self) -> str:
        return f"<pre>{html.escape(self.text)}</pre>"


def explain(
    study: Study,
    plan: Plan | None = None,
    *,
    seed: int = 0,
    seconds: float | None = None,
    iterations: int | None = None,
    threads: int | None = None,
    executor: Executor | None = None,
    progress: Callable[[str], object] | None = None,
) -> Explanation:
    """Say why not everything fits, and what each relaxation would buy.

    Parameters
    ----------
    study : Study
        What was asked.
    plan : Plan, optional
        The plan to explain; made within the same limits when not given.
    seed : int, default 0
        Seed of every search.
    seconds : float, optional
        Time limit in all. With neither limit twenty seconds.
    iterations : int, optional
        Limit of iterations for each search instead: the same answer for the same seed.
    threads : int, optional
        Threads of each search; one per core when not given.
    executor : concurrent.futures.Executor, optional
        Where to try the relaxations side by side; see `sidon.sweep.sweep`.
    progress : callable, optional
        Called with a line of text for each step.

    Returns
    -------
    Explanation
        Each gain is shown by a checked plan; a conflict says whether it is proved.

    Raises
    ------
    InvalidProblemError
        When an argument is out of range.

    Notes
    -----
    Gains are what the search found within its limits: at least so many, perhaps more. They are
    tried one at a time and do not add up.
    """
    say = progress if progress is not None else lambda _: None
    if seconds is None and iterations is None:
        seconds = _USUAL_SECONDS
    if plan is None:
        say("planning the study as it is")
        share = seconds / 4 if seconds is not None else None
        plan = study.plan(seed=seed, seconds=share, iterations=iterations, threads=threads)
    refused = _refused(study, plan)
    if not refused:
        return Explanation(study.name, plan, 0, 0, None, ())
    compiled = study.compiled
    say("looking for links that cannot hold together")
    effort = Effort(seed=seed, threads=threads)
    if iterations is not None:
        effort.iterations = iterations
    else:
        effort.ends_s = time.monotonic() + _CONFLICT_SHARE * (seconds or _USUAL_SECONDS)
    conflict = find_conflict(compiled, refused, effort)
    rows = [compiled.links[index] for index in refused]
    tried = relaxations(study, {row.profile for row in rows}, {row.zone for row in rows})
    share = None
    if iterations is None:
        share = max(_LEAST_SECONDS, (seconds or _USUAL_SECONDS) * 0.5 / max(1, 2 * len(tried)))
    # Where much changes a fresh search goes further; where little does, the plan there is.
    cases = [
        Case(
            labels=(("relaxation", str(index)),),
            study=changed(study, relaxation.changes),
            seed=seed,
            iterations=iterations,
            seconds=share,
            start=start,
            threads=1 if executor is not None and threads is None else threads,
        )
        for index, relaxation in enumerate(tried)
        for start in (plan, None)
    ]
    found: dict[int, list[Bought]] = {}
    bought: list[Bought] = []
    for outcome in sweep(cases, executor=executor):
        index = int(dict(outcome.case.labels)["relaxation"])
        found.setdefault(index, []).append(_bought(tried[index], plan, outcome))
        if len(found[index]) == 2:
            bought.append(min(found[index], key=_preference))
            say(f"{len(bought)} of {len(tried)}: {bought[-1].text}")
    bought.sort(key=_preference)
    missing = len(plan.missing)
    return Explanation(study.name, plan, missing, len(refused) - missing, conflict, tuple(bought))


def _refused(study: Study, plan: Plan) -> list[int]:
    """List the links without a carrier, required ones of high weight first."""
    served = {row.link for row in plan.document.assignments}
    links = study.compiled.links
    found = [i for i, row in enumerate(links) if not row.incumbent and row.id not in served]
    return sorted(found, key=lambda index: (links[index].spare, -links[index].weight, index))


def _preference(bought: Bought) -> tuple[int, int, int, str, bool]:
    # By text last, as they come in any order from several workers.
    relaxation = bought.relaxation
    return -bought.required, -bought.spares, relaxation.price, relaxation.text, bought.fresh


def _bought(relaxation: Relaxation, before: Plan, outcome: Outcome) -> Bought:
    missing, spares = _counts(before)
    fresh = outcome.case.start is None
    still, after = missing, spares
    if outcome.plan is not None:
        still, after = _counts(outcome.plan)
    if (still, -after) >= (missing, -spares):
        return Bought(relaxation, 0, 0, missing, None, fresh)
    return Bought(relaxation, missing - still, max(0, after - spares), still, outcome.plan, fresh)


def _counts(plan: Plan) -> tuple[int, int]:
    return len(plan.missing), sum(row.spare for row in plan.document.assignments)
