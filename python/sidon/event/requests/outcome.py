"""What became of each request: granted, moved, served or refused, with a reason."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sidon._columns import Columns
from sidon.event.requests.obstacle import Obstacles
from sidon.plan.document import AssignmentRecord, PlanDocument, RefusedRecord
from sidon.units import mhz_text

if TYPE_CHECKING:
    from sidon.plan import Plan

__all__ = ["Outcome", "outcome", "outcome_columns", "outcome_lines"]

_MOST_LINES = 20


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one link that somebody asked for.

    Parameters
    ----------
    party : str
        Who asked; "" when the study does not say.
    link, zone, profile : str
        Its names.
    windows : tuple of str
        When; empty means always.
    spare : bool
        Whether it is kept in reserve.
    outcome : str
        ``"granted"`` (it has the frequency it wanted), ``"moved"`` (it has another one),
        ``"served"`` (it has one, and wanted none in particular) or ``"refused"``.
    wanted_hz, frequency_hz : int or None
        Hertz.
    reason : str
        Why it was moved or refused; who else wanted its frequency.
    """

    party: str
    link: str
    zone: str
    profile: str
    windows: tuple[str, ...]
    spare: bool
    outcome: str
    wanted_hz: int | None
    frequency_hz: int | None
    reason: str


def outcome(plan: Plan) -> list[Outcome]:
    """Say what became of every request of a plan.

    Parameters
    ----------
    plan : Plan
        The plan; nothing else is read.

    Returns
    -------
    list of Outcome
        One per link, spares and links of no party included, in the order of the study, refused
        links last; empty when no link belongs to a party or wants a frequency.

    Notes
    -----
    O(n^2 log n) in the links that share the air, for each link that was moved.

    Examples
    --------
    >>> from sidon import Study
    >>> from sidon.demo import study_text
    >>> plan = Study.from_toml_text(study_text()).plan(seed=1, iterations=1_000)
    >>> outcome(plan)  # nobody in that study is a party
    []
    """
    return _outcomes(plan.document)


def _outcomes(document: PlanDocument) -> list[Outcome]:
    everyone: list[AssignmentRecord | RefusedRecord] = [*document.assignments, *document.refused]
    asked = any(row.party is not None or row.wanted_hz is not None for row in everyone)
    # Where somebody asked, those that belong to nobody are told of too, so that none is missed.
    rows = everyone if asked else []
    obstacles = Obstacles(document) if any(map(_is_moved, rows)) else None
    rivals = _rivals(document, rows)
    found = []
    for row in rows:
        state, reason, hertz = "refused", getattr(row, "reason", ""), None
        if isinstance(row, AssignmentRecord):
            state, reason, hertz = "served", "", row.frequency_hz
            if row.wanted_hz is not None:
                state = "moved" if _is_moved(row) else "granted"
            if obstacles and row.wanted_hz is not None and state == "moved":
                why = obstacles.at(row.link, row.wanted_hz)
                so_far = obstacles.nearer(row.link, row.wanted_hz)
                reason = f"at {mhz_text(row.wanted_hz)} MHz: {why}; {so_far}"
        if row.link in rivals:
            also = f"wanted also by {rivals[row.link]}"
            reason = f"{reason}; {also}" if reason else also
        found.append(
            Outcome(
                party=row.party or "",
                link=row.link,
                zone=row.zone,
                profile=row.profile,
                windows=tuple(row.windows),
                spare=row.spare,
                outcome=state,
                wanted_hz=row.wanted_hz,
                frequency_hz=hertz,
                reason=reason,
            )
        )
    return found


def _is_moved(row: AssignmentRecord | RefusedRecord) -> bool:
    if not isinstance(row, AssignmentRecord) or row.wanted_hz is None:
        return False
    return row.frequency_hz != row.wanted_hz


def _rivals(document: PlanDocument, rows: list[AssignmentRecord | RefusedRecord]) -> dict[str, str]:
    """Name, for each link, the others that want its wanted frequency while sharing air and time."""
    apart = {frozenset(c.zones) for c in document.couplings if c.degree == "none"}
    spans = {window.name: (window.start, window.end) for window in document.windows}
    by_wish: dict[int, list[AssignmentRecord | RefusedRecord]] = {}
    for row in rows:
        if row.wanted_hz is not None:
            by_wish.setdefault(row.wanted_hz, []).append(row)

    def meet(a: AssignmentRecord | RefusedRecord, b: AssignmentRecord | RefusedRecord) -> bool:
        if frozenset({a.zone, b.zone}) in apart:
            return False
        if not a.windows or not b.windows:
            return True
        pairs = ((spans[v], spans[w]) for v in a.windows for w in b.windows)
        return any(s < v and u < e for (s, e), (u, v) in pairs)

    found = {}
    for wishers in by_wish.values():
        for row in wishers:
            others = [o for o in wishers if o is not row and meet(row, o)]
            if others:
                names = [f"{o.link!r}" + (f" ({o.party})" if o.party else "") for o in others]
                more = f" and {len(names) - 3} more" if len(names) > 3 else ""
                found[row.link] = ", ".join(names[:3]) + more
    return found


def outcome_columns(document: PlanDocument) -> Columns:
    """Say what became of every request, as columns.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    Columns
        ``party``, ``link``, ``zone``, ``profile``, ``windows`` (joined by "; "), ``spare``,
        ``outcome``, ``wanted_hz`` and ``frequency_hz`` (int64, -1 for none), ``reason``.
    """
    rows = _outcomes(document)
    texts = ("party", "link", "zone", "profile")
    table = {name: np.array([getattr(row, name) for row in rows], np.str_) for name in texts}
    return Columns(
        {
            **table,
            "windows": np.array(["; ".join(row.windows) for row in rows], np.str_),
            "spare": np.array([row.spare for row in rows], np.bool_),
            "outcome": np.array([row.outcome for row in rows], np.str_),
            "wanted_hz": _hertz([row.wanted_hz for row in rows]),
            "frequency_hz": _hertz([row.frequency_hz for row in rows]),
            "reason": np.array([row.reason for row in rows], np.str_),
        }
    )


def _hertz(values: list[int | None]) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    return np.array([-1 if value is None else value for value in values], np.int64)


def outcome_lines(document: PlanDocument) -> list[str]:
    """Sum up in lines of text what became of the requests.

    Parameters
    ----------
    document : PlanDocument
        The plan.

    Returns
    -------
    list of str
        Counts, and each moved link with its reason, twenty at most; empty when nobody asked.
    """
    rows = _outcomes(document)
    if not rows:
        return []
    asked = [row for row in rows if row.party or row.wanted_hz is not None]
    counts = Counter(row.outcome for row in asked)
    kinds = [k for k in ("granted", "moved", "served", "refused") if counts[k]]
    lines = ["Requests: " + ", ".join(f"{counts[kind]} {kind}" for kind in kinds)]
    others = sum(not row.party for row in rows)
    if others and others < len(rows):
        lines[0] += f"; {others} link{' belongs' if others == 1 else 's belong'} to no party"
    moved = [row for row in rows if row.outcome == "moved"]
    for row in moved[:_MOST_LINES]:
        whose = f" ({row.party})" if row.party else ""
        to = mhz_text(row.frequency_hz or 0)
        lines.append(f"  {row.link}{whose}: moved to {to} MHz; {row.reason}")
    if len(moved) > _MOST_LINES:
        lines.append(f"  and {len(moved) - _MOST_LINES} more, listed in the sheets of the parties")
    return lines
