"""One question of how many fit, its answer, and what answers say about each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

__all__ = ["Case", "Foreign", "Found", "settled", "shared"]


@dataclass(frozen=True, slots=True)
class Foreign:
    """A carrier that is on the air already.

    Parameters
    ----------
    hz : int
        Where.
    separation : int
        What it keeps from others, in hertz.
    guards : tuple of (str, int)
        Its guards by form, in hertz.
    mixes : bool
        Whether its transmitter makes products.
    """

    hz: int
    separation: int
    guards: tuple[tuple[str, int], ...]
    mixes: bool

    def covers(self, other: Foreign) -> bool:
        """Whether whoever bears with this carrier bears with another one."""
        return (
            self.hz == other.hz
            and self.separation >= other.separation
            and _at_least(dict(self.guards), dict(other.guards))
            and (self.mixes or not other.mixes)
        )


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """How many carriers of one kind fit among candidates, beside foreign ones.

    Parameters
    ----------
    label : str
        What to call it while it is looked at.
    candidates : numpy.ndarray
        int64, ascending, in hertz.
    separation : int
        In hertz.
    guards : tuple of (str, int)
        By form, in hertz, none of them 0.
    mixes : bool
        Whether its transmitters make products.
    foreign : tuple of Foreign
        Who is there already.
    weight : int
        How much of the budget it takes, compared with others.
    """

    label: str
    candidates: NDArray[np.int64]
    separation: int
    guards: tuple[tuple[str, int], ...]
    mixes: bool = True
    foreign: tuple[Foreign, ...] = ()
    weight: int = 1

    @property
    def key(self) -> tuple[object, ...]:
        """What two cases with one answer have in common."""
        rules = self.separation, self.guards, self.mixes, self.foreign
        return self.candidates.tobytes(), *rules

    @property
    def own_guards(self) -> dict[str, int]:
        """Guards that carriers of this kind alone can break."""
        return dict(self.guards) if self.mixes else {}

    def stricter_than(self, other: Case) -> bool:
        """Whether whatever keeps these rules keeps those of another case."""
        return (
            self.separation >= other.separation
            and _at_least(self.own_guards, other.own_guards)
            and all(any(own.covers(row) for own in self.foreign) for row in other.foreign)
            and (not other.foreign or _at_least(dict(self.guards), dict(other.guards)))
            and (not other.foreign or self.mixes or not other.mixes)
        )

    def within(self, other: Case) -> bool:
        """Whether all candidates are candidates of another case."""
        mine, theirs = self.candidates, other.candidates
        if mine is theirs:
            return True
        if len(mine) > len(theirs):
            return False
        return bool(len(mine) == 0 or _present(mine, theirs).all())


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """The answer to a case.

    Parameters
    ----------
    frequencies : numpy.ndarray
        int64, ascending: carriers that fit.
    bound : int
        No more do.
    proof : str
        Why not, as `sidon.largest_set` calls it.
    """

    frequencies: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    bound: int = 0
    proof: str = "candidates"

    @property
    def size(self) -> int:
        """How many fit."""
        return len(self.frequencies)


def shared(case: Case, others: Sequence[tuple[Case, Found]]) -> Found | None:
    """Find what other answers say about a case. O(n) in the others.

    Parameters
    ----------
    case : Case
        The question.
    others : sequence of (Case, Found)
        Other questions with their answers, which may include it.

    Returns
    -------
    Found or None
        The largest part of another set that keeps the rules of the case, for a part of a compatible
        set is compatible; the least bound of a wider question with looser rules. None where
        nothing can be said.
    """
    best: NDArray[np.int64] | None = None
    bound: tuple[int, str] | None = None
    for other, found in others:
        if found.size > (0 if best is None else len(best)) and other.stricter_than(case):
            part = found.frequencies[_present(found.frequencies, case.candidates)]
            if best is None or len(part) > len(best):
                best = part
        lower = bound is None or found.bound < bound[0]
        if lower and case.stricter_than(other) and case.within(other):
            bound = found.bound, found.proof
    if best is None or bound is None:
        return None
    return Found(best, *bound)


def settled(cases: Sequence[Case], answers: Sequence[Found]) -> list[Found]:
    """Let every answer take what the others say about its case. O(n^2) in the cases.

    Parameters
    ----------
    cases : sequence of Case
        The questions.
    answers : sequence of Found
        Their answers, in order.

    Returns
    -------
    list of Found
        Consistent: a wider range, or looser rules over the same range, never fits fewer, and
        never has the lower bound.
    """
    pairs = list(zip(cases, answers, strict=True))
    return [shared(case, pairs) or found for case, found in pairs]


def _at_least(guards: dict[str, int], others: dict[str, int]) -> bool:
    return all(guards.get(form, 0) >= hz for form, hz in others.items())


def _present(these: NDArray[np.int64], there: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Mark which of ascending values are among other ascending values."""
    if not len(there):
        return np.zeros(len(these), dtype=np.bool_)
    at = np.minimum(np.searchsorted(there, these), len(there) - 1)
    return np.asarray(there[at] == these)
