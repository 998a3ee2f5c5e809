"""Whether some links fit under some rules: found, proved not to, or not found."""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

from sidon.event.explain.rules import Rule, part

if TYPE_CHECKING:
    import sidon
    from sidon.study.compile import Compiled

__all__ = ["Effort", "Verdict", "fits"]

Verdict: TypeAlias = Literal["fits", "proved", "not found"]

_EXACT_LINKS = 14
_EXACT_SHARE = 20


@dataclass(slots=True)
class Effort:
    """How long to look.

    Parameters
    ----------
    iterations : int
        Iterations of the search for each question.
    seed : int
        Seed of every search.
    threads : int, optional
        Threads of every search.
    ends_s : float, optional
        When to stop asking, by `time.monotonic`.
    """

    iterations: int = 2_000
    seed: int = 0
    threads: int | None = None
    ends_s: float | None = None

    @property
    def spent(self) -> bool:
        """Whether the time is over."""
        return self.ends_s is not None and time.monotonic() >= self.ends_s


def fits(
    compiled: Compiled, links: Sequence[int], effort: Effort, without: Iterable[Rule] = ()
) -> Verdict:
    """Tell whether links fit together.

    Parameters
    ----------
    compiled : Compiled
        The compiled study.
    links : sequence of int
        Indices of its links.
    effort : Effort
        How long to look.
    without : iterable of Rule
        Rules that need not be kept.

    Returns
    -------
    {"fits", "proved", "not found"}
        A plan for all of them was found; a bound shows that there is none; or neither.
    """
    if not links:
        return "fits"
    dropped = list(without)
    if not dropped and _too_many(compiled, links):
        return "proved"
    problem = part(compiled, links, dropped)
    for method, iterations in (("first-fit", 1), ("local-search", effort.iterations)):
        verdict = _verdict(_solve(problem, method, iterations, effort))
        if verdict != "not found":
            return verdict
    if len(links) <= _EXACT_LINKS:
        iterations = effort.iterations * _EXACT_SHARE
        return _verdict(_solve(problem, "branch-and-bound", iterations, effort))
    return "not found"


def _too_many(compiled: Compiled, links: Sequence[int]) -> bool:
    """Tell whether links that are all alike are more than can be compatible at all."""
    import sidon

    rows = [compiled.links[index] for index in links]
    if len({(row.profile, row.zone, frozenset(row.windows), row.locked_hz) for row in rows}) != 1:
        return False
    where = compiled.tunings.get(rows[0].profile)
    if where is None or rows[0].locked_hz is not None:
        return False
    profile = next(p for p in compiled.problem["profiles"] if p["name"] == rows[0].profile)
    guards = {guard["form"]: guard["guard_hz"] for guard in profile["guards"]}
    found = sidon.largest_set(
        where.candidates_hz(),
        separation=profile["separation_hz"],
        guards=guards if profile["mixes"] else {},
        iterations=1,
    )
    return found.upper_bound < len(links)


def _solve(problem: sidon.Problem, method: str, iterations: int, effort: Effort) -> sidon.Result:
    import sidon

    return sidon.solve(
        problem, method=method, iterations=iterations, seed=effort.seed, threads=effort.threads
    )


def _verdict(result: sidon.Result) -> Verdict:
    if result.refused == 0:
        return "fits"
    return "proved" if result.bound > 0 or result.status == "optimal" else "not found"
