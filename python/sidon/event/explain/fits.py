"""Whether some links fit under some rules: found, proved not to, or not found."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, TypeAlias

from sidon.event.explain.rules import Rule, part

if TYPE_CHECKING:
    import sidon
    from sidon.study.compile import Compiled, LinkRow

__all__ = ["Effort", "Kind", "Verdict", "fits", "kind"]

Verdict: TypeAlias = Literal["fits", "proved", "not found"]

Kind: TypeAlias = tuple[object, ...]

_EXACT_LINKS = 14
_EXACT_SHARE = 20


def kind(row: LinkRow) -> Kind:
    """Return what links have in common that may stand in for each other.

    Parameters
    ----------
    row : LinkRow
        A link.

    Returns
    -------
    tuple
        Profile, zone, time, lock and whether it is foreign.
    """
    return row.profile, row.zone, frozenset(row.windows), row.locked_hz, row.incumbent


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
    served : mapping
        How many links of each kind are known to fit together; see `kind`.
    largest : dict
        How many of each profile alone fit, and could at most, as far as it was asked.
    """

    iterations: int = 2_000
    seed: int = 0
    threads: int | None = None
    ends_s: float | None = None
    served: Mapping[Kind, int] = field(default_factory=dict)
    largest: dict[str, tuple[int, int]] = field(default_factory=dict)

    @property
    def left_s(self) -> float | None:
        """Seconds left for one question."""
        return None if self.ends_s is None else max(0.05, self.ends_s - time.monotonic())

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
    kinds = Counter(kind(compiled.links[index]) for index in links)
    if all(count <= effort.served.get(key, 0) for key, count in kinds.items()):
        return "fits"
    if not dropped and len({key[:2] for key in kinds}) == 1:
        size, most = _largest(compiled, [compiled.links[index] for index in links], effort)
        if len(links) <= size:
            return "fits"
        # Those that are always on share the air with whatever else has one time in common.
        times = {key[2] for key in kinds} - {frozenset()}
        if len(times) <= 1 and len(links) > most:
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


def _largest(compiled: Compiled, rows: Sequence[LinkRow], effort: Effort) -> tuple[int, int]:
    """Tell how many links of one profile and zone fit alone, at all times, and could at most."""
    import sidon

    row = rows[0]
    where = compiled.tunings.get(row.profile)
    if where is None or any(row.locked_hz is not None or row.incumbent for row in rows):
        return 0, 2**31
    if row.profile not in effort.largest:
        profile = next(p for p in compiled.problem["profiles"] if p["name"] == row.profile)
        guards = {guard["form"]: guard["guard_hz"] for guard in profile["guards"]}
        found = sidon.largest_set(
            where.candidates_hz(),
            separation=profile["separation_hz"],
            guards=guards if profile["mixes"] else {},
            iterations=effort.iterations,
            seconds=effort.left_s,
            seed=effort.seed,
            threads=effort.threads,
        )
        effort.largest[row.profile] = found.size, found.upper_bound
    return effort.largest[row.profile]


def _solve(problem: sidon.Problem, method: str, iterations: int, effort: Effort) -> sidon.Result:
    import sidon

    return sidon.solve(
        problem,
        method=method,
        iterations=iterations,
        seconds=effort.left_s,
        seed=effort.seed,
        threads=effort.threads,
    )


def _verdict(result: sidon.Result) -> Verdict:
    if result.refused == 0:
        return "fits"
    return "proved" if result.bound > 0 or result.status == "optimal" else "not found"
