"""What differs between two plans, link by link, and which rules did."""

from __future__ import annotations

import html
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sidon._columns import Columns
from sidon._frames import Framed
from sidon.event.rules import link_rules, rule_changes
from sidon.plan.document import AssignmentRecord, PlanDocument, RefusedRecord
from sidon.result import REFUSED
from sidon.units import mhz_text

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["CHANGES", "LinkChange", "PlanDiff", "plan_diff", "rows_of"]

CHANGES = {
    "retuned": "on another frequency",
    "added": "new, with a carrier",
    "served": "refused before, with a carrier now",
    "removed": "no longer asked for",
    "refused": "without a carrier now",
    "rules": "on the same frequency under other rules",
}
"""What can become of a link, in the order in which it is told."""


@dataclass(frozen=True, slots=True)
class LinkChange:
    """What became of one link.

    Attributes
    ----------
    change : str
        ``"retuned"``, ``"added"``, ``"served"``, ``"removed"``, ``"refused"`` or ``"rules"``.
    link, zone, profile : str
        Its names, as in the new plan where it is still there.
    old_hz, new_hz : int
        Hertz; -1 where it has no carrier.
    priority : int
        As asked for.
    spare : bool
        Whether it is kept in reserve.
    rules : tuple of str
        Which rules of its own are others, in words.
    """

    change: str
    link: str
    zone: str
    profile: str
    old_hz: int
    new_hz: int
    priority: int
    spare: bool
    rules: tuple[str, ...] = ()

    def __str__(self) -> str:
        old, new = (mhz_text(hz) if hz != REFUSED else "off" for hz in (self.old_hz, self.new_hz))
        if self.change == "retuned":
            shift = self.new_hz - self.old_hz
            sign = "+" if shift > 0 else "-"
            text = f"{old} -> {new} MHz ({sign}{mhz_text(abs(shift))})"
        elif self.change == "rules":
            text = f"{new} MHz"
        elif self.new_hz == REFUSED:
            text = f"{old} MHz -> off" if self.old_hz != REFUSED else "no carrier"
        else:
            text = f"{new} MHz"
        spare = " (spare)" if self.spare else ""
        told = f"; {'; '.join(self.rules)}" if self.rules else ""
        return f"{self.link}{spare}, {self.zone}, {self.profile}: {text}{told}"


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class PlanDiff(Framed):
    """What differs between two plans. Immutable; pickles; compares by value.

    Attributes
    ----------
    old, new : str
        The names of the two studies.
    links : tuple of LinkChange
        One for each link that is not as it was, by change, then in the order of the plans.
    rules : tuple of str
        What else differs: availability, couplings, profiles, windows, foreign carriers.

    Examples
    --------
    >>> from sidon import Study
    >>> from sidon.demo import study_text
    >>> study = Study.from_toml_text(study_text())
    >>> plan = study.plan(seed=1, iterations=50_000)
    >>> plan.diff(plan).same
    True
    """

    old: str
    new: str
    links: tuple[LinkChange, ...]
    rules: tuple[str, ...] = ()

    @property
    def same(self) -> bool:
        """Whether nothing differs."""
        return not (self.links or self.rules)

    def of(self, change: str) -> tuple[LinkChange, ...]:
        """Return the links of one kind of change, such as ``"retuned"``."""
        return tuple(row for row in self.links if row.change == change)

    @property
    def retuned(self) -> tuple[LinkChange, ...]:
        """The links on another frequency than before."""
        return self.of("retuned")

    def counts(self) -> dict[str, int]:
        """Count the links by change, all kinds of change named.

        Returns
        -------
        dict of str to int
            Spares included.
        """
        return {change: len(self.of(change)) for change in CHANGES}

    def weights(self) -> dict[str, int]:
        """Sum the priorities of the required links by change; spares weigh nothing.

        Returns
        -------
        dict of str to int
            All kinds of change named.
        """
        return {
            change: sum(row.priority for row in self.of(change) if not row.spare)
            for change in CHANGES
        }

    def columns(self) -> Columns:
        """Return the changes as columns.

        Returns
        -------
        Columns
            ``change``, ``link``, ``zone``, ``profile``, ``old_hz`` and ``new_hz`` (int64, -1 where
            there is no carrier), ``shift_hz`` (0 unless retuned), ``priority``, ``spare``,
            ``rules``.
        """
        rows = self.links

        def texts(values: Sequence[str]) -> NDArray[Any]:
            return np.array(values, dtype=np.str_)

        shifts = [row.new_hz - row.old_hz if row.change == "retuned" else 0 for row in rows]
        return Columns(
            change=texts([row.change for row in rows]),
            link=texts([row.link for row in rows]),
            zone=texts([row.zone for row in rows]),
            profile=texts([row.profile for row in rows]),
            old_hz=np.array([row.old_hz for row in rows], dtype=np.int64),
            new_hz=np.array([row.new_hz for row in rows], dtype=np.int64),
            shift_hz=np.array(shifts, dtype=np.int64),
            priority=np.array([row.priority for row in rows], dtype=np.int64),
            spare=np.array([row.spare for row in rows], dtype=np.bool_),
            rules=texts(["; ".join(row.rules) for row in rows]),
        )

    def summary(self) -> str:
        """Tell the changes in plain text.

        Returns
        -------
        str
            Counts, then each link under its change, then the rules.
        """
        head = f"Changes from {self.old or 'a plan'!r} to {self.new or 'a plan'!r}: "
        if self.same:
            return head + "none"
        lines = [head + self._counted()]
        for change, meaning in CHANGES.items():
            rows = self.of(change)
            if rows:
                lines += ["", f"{change.capitalize()} ({meaning}):", *(f"  {row}" for row in rows)]
        if self.rules:
            lines += ["", "Rules of the plan:", *(f"  {text}" for text in self.rules)]
        return "\n".join(lines)

    def _counted(self) -> str:
        weights = self.weights()
        parts = [
            f"{n} {change} (priority {weights[change]} in all)"
            for change, n in self.counts().items()
            if n
        ]
        return ", ".join(parts) or "rules only"

    def __repr__(self) -> str:
        counted = ", ".join(f"{n} {change}" for change, n in self.counts().items() if n)
        return f"PlanDiff({counted or 'no link'}; {len(self.rules)} rules)"

    def _repr_html_(self) -> str:
        table = self.columns()._repr_html_()
        rules = "".join(f"<li>{html.escape(text)}</li>" for text in self.rules)
        return f"<p>{html.escape(self._counted())}</p>{table}<ul>{rules}</ul>"


def plan_diff(old: PlanDocument, new: PlanDocument) -> PlanDiff:
    """Compare two plans link by link. O(links + rules).

    Parameters
    ----------
    old, new : PlanDocument
        Two plans; links go by name.

    Returns
    -------
    PlanDiff
        What differs.
    """
    rows = sorted(_links(old, new), key=lambda row: list(CHANGES).index(row.change))
    return PlanDiff(
        old=old.study, new=new.study, links=tuple(rows), rules=tuple(rule_changes(old, new))
    )


def _links(old: PlanDocument, new: PlanDocument) -> Iterator[LinkChange]:
    before, after = rows_of(old), rows_of(new)
    rules_before, rules_after = link_rules(old), link_rules(new)
    for link in [*after, *(link for link in before if link not in after)]:
        was, now = before.get(link), after.get(link)
        shown = now or was
        if shown is None:  # a name stands in one of the two at least
            continue
        old_hz, new_hz = _hz(was), _hz(now)
        told: tuple[str, ...] = ()
        if was is not None and now is not None:
            told = tuple(rules_after(now).told_from(rules_before(was)))
        change = _change(was, now)
        if change is None and not told:
            continue
        yield LinkChange(
            change=change or "rules",
            link=link,
            zone=shown.zone,
            profile=shown.profile,
            old_hz=old_hz,
            new_hz=new_hz,
            priority=shown.priority,
            spare=shown.spare,
            rules=told,
        )


Row = AssignmentRecord | RefusedRecord


def rows_of(document: PlanDocument) -> dict[str, Row]:
    """List the links of a plan by name, those refused too."""
    listed: list[Row] = [*document.assignments, *document.refused]
    return {row.link: row for row in listed}


def _hz(row: Row | None) -> int:
    return row.frequency_hz if isinstance(row, AssignmentRecord) else REFUSED


def _change(was: Row | None, now: Row | None) -> str | None:
    old_hz, new_hz = _hz(was), _hz(now)
    if now is None:
        return "removed"
    if new_hz == REFUSED:
        return None if was is not None and old_hz == REFUSED else "refused"
    if was is None:
        return "added"
    if old_hz == REFUSED:
        return "served"
    return "retuned" if old_hz != new_hz else None
