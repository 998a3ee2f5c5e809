"""Answering cases: largest sets, sets beside foreign carriers, two profiles in one air."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sidon.capacity.budget import Budget, Grant
from sidon.capacity.case import Case, Foreign, Found, shared
from sidon.capacity.packing import Packing
from sidon.largest import largest_set
from sidon.problem import Problem
from sidon.solve import solve

if TYPE_CHECKING:
    from sidon.heuristics import AnyMethod

__all__ = ["answer", "answer_all", "beside", "unsearched"]


def answer_all(
    cases: Sequence[Case],
    known: list[tuple[Case, Found]],
    budget: Budget,
    *,
    since: float,
    until: float,
    seed: int,
    threads: int | None,
) -> list[Found]:
    """Answer cases one after another, the narrow ones of a weight first: wide ones build on them.

    Parameters
    ----------
    cases : sequence of Case
        The questions; those with one answer are asked once.
    known : list of (Case, Found)
        What was answered before; takes what is answered now.
    budget : Budget
        What all of it may use.
    since, until : float
        When these questions begin and end, as shares of the budget.
    seed, threads : int
        As for `sidon.largest_set`.

    Returns
    -------
    list of Found
        In the order of the cases.
    """
    keys = [case.key for case in cases]
    first = dict(reversed(list(zip(keys, cases, strict=True))))
    done = {case.key: found for case, found in known}
    open_ = sorted(
        (case for key, case in first.items() if key not in done),
        key=lambda case: (-case.weight, len(case.candidates)),
    )
    left = whole = sum(case.weight for case in open_)
    for case in open_:
        start = shared(case, known)
        if budget.tell(case.label) or (budget.late(until) and start is not None):
            found = start or unsearched(case)
        else:
            grant = budget.grant(weight=case.weight, left=left, of=whole, since=since, until=until)
            found = answer(case, start, grant, budget, seed=seed, threads=threads)
        known.append((case, found))
        done[case.key] = found
        budget.done += 1
        left -= case.weight
    return [done[key] for key in keys]


def answer(
    case: Case,
    start: Found | None,
    grant: Grant,
    budget: Budget,
    *,
    seed: int,
    threads: int | None,
) -> Found:
    """Answer one case.

    Parameters
    ----------
    case : Case
        The question.
    start : Found or None
        What other answers say about it.
    grant : Grant
        What the search may use.
    budget : Budget
        Told of the progress; may end the search.
    seed, threads : int
        As for `sidon.largest_set`.

    Returns
    -------
    Found
        At least as good as the start.
    """
    if not len(case.candidates):
        return Found()
    if start is not None and start.size >= start.bound:
        return start
    alone = largest_set(
        case.candidates,
        separation=case.separation,
        guards=case.own_guards,
        seed=seed,
        seconds=grant.seconds if not case.foreign else grant.part(0.5).seconds,
        iterations=grant.iterations,
        threads=threads,
        progress=lambda _: budget.tell(case.label),
    )
    budget.stopped |= alone.stop_reason == "interrupted"
    frequencies = alone.frequencies
    if case.foreign:
        half = grant.part(0.5)
        (frequencies,) = beside((case, frequencies), None, half, budget, seed=seed, threads=threads)
    bound, proof = alone.upper_bound, alone.proof
    if start is not None and start.bound < bound:
        bound, proof = start.bound, start.proof
    if start is not None and start.size > len(frequencies):
        frequencies = start.frequencies
    return Found(frequencies, bound, proof)


def unsearched(case: Case) -> Found:
    """Return an empty answer with the bound that separation alone gives. O(candidates).

    Parameters
    ----------
    case : Case
        The question.

    Returns
    -------
    Found
        What is true before any search.
    """
    count, clear = 0, -1
    for hz in case.candidates.tolist():
        if hz >= clear:
            count, clear = count + 1, hz + max(1, case.separation)
    return Found(bound=count, proof="separation" if case.separation else "candidates")


def beside(
    first: tuple[Case, NDArray[np.int64]],
    second: tuple[Case, NDArray[np.int64]] | None,
    grant: Grant,
    budget: Budget,
    *,
    seed: int,
    threads: int | None,
) -> list[NDArray[np.int64]]:
    """Fit carriers of one or two kinds beside foreign ones, and the second beside the first.

    Parameters
    ----------
    first, second : (Case, numpy.ndarray)
        What each tunes and tolerates, and a set that fits alone: as many are wanted, and there they
        are tried first.
    grant, budget, seed, threads
        As for `answer`.

    Returns
    -------
    list of numpy.ndarray
        The carriers of each kind, ascending; the first kind comes first in every choice.
    """
    kinds = [first] if second is None else [first, second]
    sizes = [len(start) for _, start in kinds]
    ranges = [range(0, sizes[0]), range(sizes[0], sum(sizes))][: len(kinds)]
    foreign = tuple(dict.fromkeys(row for case, _ in kinds for row in case.foreign))
    priorities = [sizes[-1] + 1, 1][-len(kinds) :]
    cases = [case for case, _ in kinds]
    problem = _problem(list(zip(cases, sizes, priorities, strict=True)), foreign)
    label = " with ".join(case.label for case in cases)
    # A step in Python takes as long as many in the engine.
    parts: list[tuple[AnyMethod, Grant]] = [
        ("lns", Grant(grant.part(0.4).seconds, grant.part(0.5).iterations)),
        (Packing(ranges), Grant(grant.part(0.6).seconds, grant.part(0.05).iterations)),
    ]
    plan = np.array([hz for _, start in kinds for hz in start] + [row.hz for row in foreign])
    for method, part in parts:
        result = solve(
            problem,
            method=method,
            start=plan,
            seed=seed,
            seconds=part.seconds,
            iterations=part.iterations,
            threads=threads,
            progress=lambda _: budget.tell(label),
        )
        plan = result.frequencies
        budget.stopped |= result.stop_reason == "interrupted"
        if budget.stopped or not result.refused:
            break
    columns = [plan[links.start : links.stop] for links in ranges]
    return [np.sort(column[column >= 0]) for column in columns]


def _problem(kinds: Sequence[tuple[Case, int, int]], foreign: Sequence[Foreign]) -> Problem:
    """Ask for numbers of links of each kind, all in one air, beside foreign carriers."""
    profiles: list[dict[str, Any]] = []
    domains: list[Any] = []
    links: list[dict[str, Any]] = []
    for index, (case, count, priority) in enumerate(kinds):
        name = f"kind {index}"
        profiles.append(_profile(name, case.separation, case.guards, mixes=case.mixes))
        domains.append(case.candidates)
        links += [
            {
                "id": f"{index}-{n}",
                "profile": index,
                "zone": 0,
                "domain": index,
                "priority": priority,
            }
            for n in range(count)
        ]
    total = sum(link["priority"] for link in links) + 1
    for n, row in enumerate(foreign):
        links.append(
            {
                "id": f"foreign-{n}",
                "profile": len(profiles),
                "zone": 0,
                "domain": len(domains),
                "priority": total,
                "locked_hz": row.hz,
            }
        )
        profiles.append(_profile(f"foreign {n}", row.separation, row.guards, mixes=row.mixes))
        domains.append([row.hz])
    return Problem(profiles=profiles, zones=["place"], domains=domains, links=links)


def _profile(
    name: str, separation: int, guards: tuple[tuple[str, int], ...], *, mixes: bool
) -> dict[str, Any]:
    return {
        "name": name,
        "separation_hz": separation,
        "guards": [{"form": form, "guard_hz": hz} for form, hz in guards],
        "mixes": mixes,
    }
