"""Two kinds in one air, both with their spares: now, and after growth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sidon.capacity.budget import Budget, Grant
from sidon.capacity.case import Case, Found
from sidon.capacity.lines import Line
from sidon.capacity.need import Need, needs_together
from sidon.capacity.result import Mix
from sidon.capacity.search import beside, unsearched
from sidon.capacity.verdict import FITS, NOT_FOUND, TOO_FEW, state, word

if TYPE_CHECKING:
    from sidon.study.schema import StudyModel

__all__ = ["Kind", "mix_of", "needs_of", "together"]

_Pair = tuple[NDArray[np.int64], NDArray[np.int64]]


@dataclass(frozen=True, slots=True, eq=False)
class Kind:
    """One of two kinds that share the air.

    Parameters
    ----------
    line : Line
        What it is.
    need : Need
        What is wanted of it where both are wanted.
    case : Case
        Its candidates and rules.
    alone : Found
        What fits of it alone.
    unchecked : bool
        Whether part of what it tunes is not checked, so that nothing is ruled out.
    """

    line: Line
    need: Need
    case: Case
    alone: Found
    unchecked: bool


def needs_of(model: StudyModel, a: Line, b: Line) -> tuple[Need, Need] | None:
    """Count what is wanted of two lines in one air.

    Parameters
    ----------
    model : StudyModel
        The study.
    a, b : Line
        The lines.

    Returns
    -------
    (Need, Need) or None
        None where they never share the air.
    """
    if not model.demand or set(a.names) & set(b.names):
        return a.need, b.need
    return needs_together(model, a.names, b.names)


def together(a: Case, b: Case, known: Sequence[tuple[Case, Found]]) -> int:
    """Bound how many carriers of two kinds fit at once. O(n log n) in the candidates.

    Parameters
    ----------
    a, b : Case
        The kinds.
    known : sequence of (Case, Found)
        What was answered before.

    Returns
    -------
    int
        No more do. Whatever keeps the rules of both keeps the milder of every two rules, over the
        candidates of both.
    """
    theirs = dict(b.guards)
    either = Case(
        "",
        np.union1d(a.candidates, b.candidates),
        min(a.separation, b.separation),
        tuple((form, min(hz, theirs[form])) for form, hz in a.guards if form in theirs),
        a.mixes and b.mixes,
    )
    bound = unsearched(either).bound
    wider = [(case, found) for case, found in known if not case.foreign]
    # Such a case bounds the union if its own rules are milder still and it offers as much.
    bounds = [f.bound for case, f in wider if either.stricter_than(case) and either.within(case)]
    return min([bound, *bounds])


def mix_of(
    a: Kind,
    b: Kind,
    bound: int,
    grant: Grant,
    budget: Budget,
    *,
    seed: int,
    threads: int | None,
) -> Mix:
    """Fit two kinds into one air, now and after growth.

    Parameters
    ----------
    a, b : Kind
        Who comes first, and who takes what is left.
    bound : int
        No more of both fit at once.
    grant : Grant
        What the searches may use.
    budget : Budget
        Told of the progress; may end the search.
    seed, threads : int
        As for `sidon.solve`.

    Returns
    -------
    Mix
        The numbers, lists to tune, and what they mean.
    """

    def fitted(first: int, second: int | None, part: Grant) -> _Pair:
        sets = a.alone.frequencies[:first], b.alone.frequencies[:second]
        if not len(sets[0]) or not len(sets[1]) or budget.stopped:
            return sets if not budget.stopped else (sets[0], sets[1][:0])
        one, two = beside(
            (a.case, sets[0]), (b.case, sets[1]), part, budget, seed=seed, threads=threads
        )
        return one, two

    def told(pair: _Pair, first: int, second: int) -> str:
        if len(pair[0]) >= first and len(pair[1]) >= second:
            return FITS
        alone = state(0, first, a.alone.bound), state(0, second, b.alone.bound)
        proved = TOO_FEW in alone or bound < first + second
        return TOO_FEW if proved and not (a.unchecked or b.unchecked) else NOT_FOUND

    half = grant.part(0.5)
    now = fitted(a.need.now, None, half)
    later: _Pair = now[0][:0], now[1][:0]
    asked_pair = now
    grows = (a.need.later, b.need.later) != (a.need.now, b.need.now)
    if told(now, a.need.now, b.need.now) == FITS:
        if grows:
            later = fitted(a.need.later, b.need.later, half)
        # A part of what fits later fits now.
        if len(later[0]) >= a.need.now and len(later[1]) > len(now[1]):
            now = later[0][: a.need.now], later[1]
    else:
        asked_pair = fitted(a.need.asked, b.need.asked, half)
    asked_state = told(asked_pair, a.need.asked, b.need.asked)
    now_state = told(now, a.need.now, b.need.now)
    later_state = told(later if grows else now, a.need.later, b.need.later)
    # That no more was found leaves it open whether more would fit.
    left = len(now[1]) > b.need.now or bound > a.need.now + b.need.now
    reason = f"{_wanted(a)} and {_wanted(b)}; {len(now[0])} and {len(now[1])} fit"
    if asked_state == FITS and now_state != FITS:
        reason += f"; without spares {a.need.asked} and {b.need.asked} do"
    return Mix(
        first=a.line.profile.name,
        first_band=a.line.band,
        first_asked=a.need.asked,
        first_spares=a.need.spares,
        first_later=a.need.later,
        first_fits=len(now[0]),
        second=b.line.profile.name,
        second_band=b.line.band,
        asked=b.need.asked,
        spares=b.need.spares,
        later=b.need.later,
        alone=b.alone.size,
        fits=len(now[1]),
        upper_bound=b.alone.bound,
        together_bound=bound,
        now=now_state,
        in_years=later_state,
        verdict=word(asked_state, now_state, later_state, left=left),
        reason=reason,
        first_frequencies_hz=tuple(now[0].tolist()),
        frequencies_hz=tuple(now[1].tolist()),
        later_first_frequencies_hz=tuple(later[0].tolist()),
        later_frequencies_hz=tuple(later[1].tolist()),
    )


def _wanted(kind: Kind) -> str:
    spares = f" + {kind.need.spares}" if kind.need.spares else ""
    return f"{kind.need.asked}{spares} {kind.line.profile.name}"
