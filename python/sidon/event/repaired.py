"""What a repair answers: the plan, who must retune, and how that compares."""

from __future__ import annotations

import html
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from sidon.event.calls import Call, call_lines, calls_csv
from sidon.event.diff import LinkChange, PlanDiff
from sidon.plan.document import PlanDocument
from sidon.plan.summary import refusal_lines

if TYPE_CHECKING:
    from sidon.plan import Plan

__all__ = ["Repair", "Replan", "Stage"]


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of a repair.

    Attributes
    ----------
    name : str
        Who was free to move: ``"conflicting links"``, those ``"pushed aside"`` for them,
        ``"neighbours"`` in air and time, ``"all links"``.
    free : int
        How many they were.
    without_carrier, retuned : int
        Links without a carrier, and retuned, in its best plan.
    weight : int
        What its moves weigh.
    elapsed_s : float
        Wall-clock seconds of the round that found it.
    """

    name: str
    free: int
    without_carrier: int
    retuned: int
    weight: int
    elapsed_s: float


@dataclass(frozen=True, slots=True)
class Replan:
    """What planning anew would have cost.

    Attributes
    ----------
    retuned, refused : int
        Links on another frequency than before, and without a carrier.
    elapsed_s : float
        Wall-clock seconds.
    """

    retuned: int
    refused: int
    elapsed_s: float


@dataclass(frozen=True, kw_only=True, repr=False)
class Repair:
    """A repaired plan. Immutable; pickles.

    Attributes
    ----------
    document : PlanDocument
        The repaired plan as plain data; `plan` is the plan.
    diff : PlanDiff
        From the plan before to this one.
    stages : tuple of Stage
        What was tried, from the narrowest circle of links to the widest that was needed.
    weight : int
        What all moves weigh.
    weight_bound, count_bound : int
        Proved: the links that cannot stay where they stand weigh at least so much, and are at least
        so many. A link that loses its carrier counts among them.
    must : tuple of str
        Links that cannot stay whatever the others do.
    on_air : tuple of str
        Links that counted as on the air; empty when that was not told.
    proven : bool
        Whether no repair is better: every link that can tune anything at all has a carrier, and
        no moves weigh less.
    calls : tuple of Call
        What each link has to do, in the order in which it is told.
    replan : Replan or None
        A plan made anew, when it was asked for.
    elapsed_s : float
        Wall-clock seconds.
    """

    document: PlanDocument
    diff: PlanDiff
    stages: tuple[Stage, ...]
    weight: int
    weight_bound: int
    count_bound: int
    must: tuple[str, ...]
    on_air: tuple[str, ...]
    proven: bool
    calls: tuple[Call, ...]
    replan: Replan | None
    elapsed_s: float

    @cached_property
    def plan(self) -> Plan:
        """The repaired plan."""
        from sidon.plan import Plan

        return Plan(self.document)

    @property
    def retuned(self) -> tuple[LinkChange, ...]:
        """Links on another frequency than before; those in use before spares."""
        return tuple(sorted(self.diff.retuned, key=lambda row: row.spare))

    @property
    def refused(self) -> tuple[LinkChange, ...]:
        """Links that have lost their carrier, or arrived and found none."""
        return self.diff.of("refused")

    def call_lines(self) -> list[str]:
        """List what to do, by window and zone, short enough to be read over a radio.

        Returns
        -------
        list of str
            A line for each link that retunes, starts, stops, goes without or changes equipment,
            with its party and the reason, under its window and zone.
        """
        return call_lines(self.calls)

    def calls_csv(self) -> str:
        """Write the call list as CSV, frequencies in MHz.

        Returns
        -------
        str
            A header and a line per link: window, zone, party, link, spare, action, from, to, new
            equipment, whether it is on the air, whom to wait for, and why.
        """
        return calls_csv(self.calls)

    def summary(self, *, all_refusals: bool = False) -> str:
        """Tell the repair in plain text.

        Parameters
        ----------
        all_refusals : bool, default False
            List every refused link, however many lines that takes.

        Returns
        -------
        str
            Counts, bound, what to do by window and zone, and refusals grouped by reason.
        """
        lines = [self._counted()]
        if self.replan is not None:
            lines.append(
                f"A plan made anew would retune {self.replan.retuned} links and leave "
                f"{self.replan.refused} without a carrier."
            )
        calls = self.call_lines()
        lines += ["", *calls] if calls else ["Nobody has to do anything."]
        new = {row.link for row in self.refused}
        for head, rows in (
            ("Without a carrier", [r for r in self.document.refused if r.link in new]),
            ("Refused before, and still", [r for r in self.document.refused if r.link not in new]),
        ):
            some = self.document.model_copy(update={"refused": rows})
            told = refusal_lines(some, all_refusals=all_refusals)
            if told:
                lines += ["", f"{head}:", *told[1:]]
        return "\n".join(lines)

    def _counted(self) -> str:
        n = len(self.retuned)
        live = sum(row.link in self.on_air for row in self.retuned)
        on = f", {live} of them on the air" if self.on_air else ""
        stand = "it stands" if self.count_bound == 1 else "they stand"
        least = f"at least {self.count_bound} cannot stay where {stand}"
        if self.proven or not self.count_bound:
            least = "no repair weighs less" if self.proven else "perhaps not the best repair"
        lost = f"; {len(self.refused)} without a carrier" if self.refused else ""
        served = len(self.diff.of("served"))
        now = f"; {served} refused before can now be served" if served else ""
        return f"{n} link{'' if n == 1 else 's'} to retune{on} ({least}){lost}{now}."

    def __repr__(self) -> str:
        return (
            f"Repair({len(self.retuned)} retuned, at least {self.count_bound} cannot stay, "
            f"{len(self.refused)} without a carrier, weight {self.weight})"
        )

    def _repr_html_(self) -> str:
        return f"<p>{html.escape(self._counted())}</p>{self.diff.columns()._repr_html_()}"
