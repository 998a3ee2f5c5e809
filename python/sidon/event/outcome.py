"""What a repair answers: the plan, who must retune, and how that compares."""

from __future__ import annotations

import html
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from sidon.event.diff import LinkChange, PlanDiff
from sidon.plan.document import PlanDocument
from sidon.plan.hertz import mhz_text

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
        """List what to do, by zone, short enough to be read over a radio.

        Returns
        -------
        list of str
            A line for each link that retunes, starts, stops or goes without, under its zone.
        """
        words = {"retuned": "retune", "added": "start", "served": "start", "removed": "stop"}
        lines: list[str] = []
        for zone in self.document.zones:
            own = [row for row in self.diff.links if row.zone == zone and row.change != "rules"]
            if own:
                lines.append(f"{zone}:")
            for row in own:
                word = words.get(row.change, "off the air")
                to = f" to {mhz_text(row.new_hz)} MHz" if row.new_hz >= 0 else ""
                was = f", now on {mhz_text(row.old_hz)}" if row.change == "retuned" else ""
                live = ", ON THE AIR" if row.link in self.on_air else ""
                spare = " (spare)" if row.spare else ""
                wait = "".join(f", after {name} has left" for name in self._before(row))
                lines.append(f"  {row.link}{spare}: {word}{to}{was}{live}{wait}")
        return lines

    def _before(self, row: LinkChange) -> list[str]:
        """Name the links that leave a spot too near to where this one goes."""
        widths = {profile.name: profile.separation_hz for profile in self.document.profiles}
        return [
            other.link
            for other in self.diff.links
            if other.link != row.link
            and other.old_hz >= 0
            and other.old_hz != other.new_hz
            and row.new_hz >= 0
            and abs(other.old_hz - row.new_hz)
            < max(widths.get(row.profile, 0), widths.get(other.profile, 0), 1)
        ]

    def summary(self) -> str:
        """Tell the repair in plain text.

        Returns
        -------
        str
            Counts, bound, what to do by zone, and reasons of refusals.
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
        why = [f"  {row.link}: {row.reason}" for row in self.document.refused if row.link in new]
        if why:
            lines += ["", "Without a carrier:", *why]
        return "\n".join(lines)

    def _counted(self) -> str:
        n = len(self.retuned)
        live = sum(row.link in self.on_air for row in self.retuned)
        on = f", {live} of them on the air" if self.on_air else ""
        least = (
            "no repair weighs less"
            if self.proven
            else (f"at least {self.count_bound} cannot stay where they stand")
        )
        lost = f"; {len(self.refused)} without a carrier" if self.refused else ""
        return f"{n} link{'' if n == 1 else 's'} to retune{on} ({least}){lost}."

    def __repr__(self) -> str:
        return (
            f"Repair({len(self.retuned)} retuned, at least {self.count_bound} cannot stay, "
            f"{len(self.refused)} without a carrier, weight {self.weight})"
        )

    def _repr_html_(self) -> str:
        return f"<p>{html.escape(self._counted())}</p>{self.diff.columns()._repr_html_()}"
