"""Why not everything fits, and what would help: a conflict, and what each relaxation buys."""

from __future__ import annotations

import html
import time
from collections import Counter
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sidon._columns import Columns
from sidon.event.explain.conflict import Conflict, find_conflict
from sidon.event.explain.fits import Effort, Kind, kind
from sidon.event.explain.gains import Bought, Limits, better, gains
from sidon.event.explain.relax import relaxations

if TYPE_CHECKING:
    from sidon.plan import Plan
    from sidon.study import Study

__all__ = ["Explanation", "explain"]

_USUAL_SECONDS = 20.0
_PLAN_SHARE = 0.2
_BETTER_SHARE = 0.1
_CONFLICT_SHARE = 0.3


@dataclass(frozen=True, slots=True, repr=False)
class Explanation:
    """Why a study does not fit, and the cheapest ways out. Immutable; pickles.

    Parameters
    ----------
    study : str
        The name of the study.
    plan : Plan
        The plan that is explained: the one given, or a better one of the same study if the search
        came upon it.
    given : Plan
        The plan that was given.
    missing, missing_spares : int
        Required links and spares without a carrier in it.
    conflict : Conflict or None
        Links and rules that cannot hold together; None when nothing was found.
    bought : tuple of Bought
        Every relaxation tried, those that buy most first, then the cheapest.
    """

    study: str
    plan: Plan
    given: Plan
    missing: int
    missing_spares: int
    conflict: Conflict | None
    bought: tuple[Bought, ...]

    @property
    def text(self) -> str:
        """The whole explanation in words."""
        if not (self.missing or self.missing_spares):
            after_all = " in a better plan than the first" if self.plan != self.given else ""
            return f"Everything fits{after_all}; there is nothing to explain."
        lines = [f"{self.missing} required links and {self.missing_spares} spares do not fit."]
        less = len(self.given.refused) - len(self.plan.refused)
        if self.plan != self.given:
            links = "1 link" if less == 1 else f"{less} links"
            lines.append(
                f"That is {links} less than in the first plan: planning longer helps already."
                if less > 0
                else "That is a better plan than the first: planning longer helps already."
            )
        if self.conflict is not None:
            lines += ["", self.conflict.text]
        helpful = [row for row in self.bought if row.required or row.spares]
        lines += ["", f"What would help ({len(self.bought)} relaxations tried, one at a time):"]
        if not helpful:
            lines.append("  none of them alone, as far as the search found")
        for condition in dict.fromkeys(row.relaxation.condition for row in helpful):
            lines.append(f"{condition[0].upper()}{condition[1:]}:")
            lines += [f"  {row.text}" for row in helpful if row.relaxation.condition == condition]
        return "\n".join(lines)

    def summary(self) -> str:
        """Return the whole explanation in words; the same as `text`.

        Returns
        -------
        str
            Lines of plain text.
        """
        return self.text

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
        Time limit of all searches together, twenty with neither limit; reading, checking and
        writing the plans found come on top.
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

    def limits(share: float) -> Limits:
        left = None if iterations is not None or seconds is None else max(0.02, seconds * share)
        return Limits(seed, iterations, left, threads)

    if plan is None:
        say("planning the study as it is")
        whole = limits(_PLAN_SHARE)
        plan = study.plan(seed=seed, seconds=whole.seconds, iterations=iterations, threads=threads)
    given = plan
    if _refused(study, plan):
        say("looking for a better plan of the study as it is")
        plan = better(study, plan, limits(_BETTER_SHARE / 2), executor)
    refused = _refused(study, plan)
    if not refused:
        return Explanation(study.name, plan, given, 0, 0, None, ())
    compiled = study.compiled
    say("looking for links that cannot hold together")
    effort = Effort(seed=seed, threads=threads, served=_served(study, plan))
    if iterations is not None:
        effort.iterations = iterations
    elif seconds is not None:
        effort.ends_s = time.monotonic() + _CONFLICT_SHARE * seconds
    conflict = find_conflict(compiled, refused, effort)
    rows = [compiled.links[index] for index in refused]
    tried = relaxations(study, {row.profile for row in rows}, {row.zone for row in rows})
    share = (1 - _PLAN_SHARE - _BETTER_SHARE - _CONFLICT_SHARE) / max(1, 2 * len(tried))
    bought = gains(study, plan, tried, limits(share), executor, say)
    missing = len(plan.missing)
    spares = len(refused) - missing
    return Explanation(study.name, plan, given, missing, spares, conflict, tuple(bought))


def _served(study: Study, plan: Plan) -> Counter[Kind]:
    """Count the links that the plan shows to fit together, by kind."""
    served = {row.link for row in plan.document.assignments}
    return Counter(kind(row) for row in study.compiled.links if row.incumbent or row.id in served)


def _refused(study: Study, plan: Plan) -> list[int]:
    """List the links without a carrier, required ones of high weight first."""
    served = {row.link for row in plan.document.assignments}
    links = study.compiled.links
    found = [i for i, row in enumerate(links) if not row.incumbent and row.id not in served]
    return sorted(found, key=lambda index: (links[index].spare, -links[index].weight, index))
