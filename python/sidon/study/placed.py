"""Faults the engine finds, moved to the place in the study they come from."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from sidon.exceptions import CheckError, Fault
from sidon.study.compile import Compiled, LinkRow

if TYPE_CHECKING:
    import sidon

__all__ = ["in_study", "lock_faults"]

_INDEXED = re.compile(r"(links|domains|couplings)\[(\d+)\](\.locked_hz$)?")
_OWN = "move one of them, or drop a lock"
_FOREIGN = (
    "move or drop the lock it clashes with; when two foreign carriers clash, give them a profile "
    "with separation 0 and no guards: your own links still keep their distances from them"
)


def in_study(compiled: Compiled, fault: Fault) -> Fault:
    """Move a fault of the problem to the place of the study it comes from.

    Parameters
    ----------
    compiled : Compiled
        The study compiled.
    fault : Fault
        A fault whose place is an index into the problem.

    Returns
    -------
    Fault
        The same fault, placed in the study.
    """
    remedy = fault.remedy

    def moved(match: re.Match[str]) -> str:
        nonlocal remedy
        section, index, locked = match[1], int(match[2]), match[3]
        if section == "links" and index < len(compiled.links):
            row = compiled.links[index]
            if locked:
                remedy = _remedy(row)
                return row.lock_place
            return f"{row.place} ({row.id})"
        if section == "domains" and index < len(compiled.domain_places):
            return compiled.domain_places[index]
        if section == "couplings" and index < len(compiled.degrees):
            return f"couplings of {' and '.join(list(compiled.degrees)[index])}"
        return match[0]

    place = _INDEXED.sub(moved, fault.place)
    return Fault(place, fault.what, remedy)


def _remedy(row: LinkRow) -> str:
    return _FOREIGN if row.incumbent else _OWN


def lock_faults(compiled: Compiled, problem: sidon.Problem) -> list[Fault]:
    """Check the carriers that are fixed beforehand against each other.

    Parameters
    ----------
    compiled : Compiled
        The study compiled.
    problem : sidon.Problem
        The same, validated.

    Returns
    -------
    list of Fault
        One per broken rule, placed at the last of the links that break it.
    """
    import sidon

    fixed = [-1 if row.locked_hz is None else row.locked_hz for row in compiled.links]
    if sum(hz >= 0 for hz in fixed) < 2:
        return []
    try:
        sidon.check(problem, fixed)
    except CheckError as error:
        return [
            _clash([compiled.links[index] for index in violation.links], violation.text)
            for violation in error.violations
            if violation.hard
        ]
    return []


def _clash(rows: list[LinkRow], text: str) -> Fault:
    """Place a clash at a foreign carrier if one takes part, else at the last link."""
    row = next((row for row in reversed(rows) if row.incumbent), rows[-1])
    return Fault(row.lock_place, f"contradictory locks: {text}", _remedy(row))
