"""What a change would break while nobody moves."""

from __future__ import annotations

import html
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sidon._columns import Columns
from sidon._frames import Framed
from sidon.event.assess import Broken, Scene, assess
from sidon.event.moment import OnAir
from sidon.event.repair import desire_of, drafted, find_repair
from sidon.event.waiting import with_refused
from sidon.result import REFUSED
from sidon.units import mhz_text

if TYPE_CHECKING:
    from sidon.event.repaired import Repair
    from sidon.plan.document import AssignmentRecord, PlanDocument

__all__ = ["Breach", "WhatIf", "find_out"]


@dataclass(frozen=True, slots=True)
class Breach:
    """One rule that would be broken.

    Attributes
    ----------
    rule : str
        ``"frequency"`` (it may no longer stand there), ``"separation"`` or ``"hit"``; or
        ``"room"`` for a link that arrives and finds no clear frequency while nobody moves.
    links : tuple of str
        Who takes part; for a hit the sources, then the victim.
    text : str
        In words.
    """

    rule: str
    links: tuple[str, ...]
    text: str


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class WhatIf(Framed):
    """What a change would break while nobody moves. Immutable; pickles.

    Attributes
    ----------
    breaches : tuple of Breach
        Every rule that would be broken, at most ten thousand.
    must : tuple of str
        Links that could not stay where they stand, whatever the others do.
    count_bound, weight_bound : int
        Proved: at least so many links could not stay, and their moves weigh at least so much.
    newcomers : tuple of (str, int)
        Each link that arrives, with how many frequencies would be clear for it while nobody moves
        but those that must.
    repair : Repair or None
        The repair, when it was asked for and no locked link stands in its way.
    locked : tuple of str
        Locked links that could not stay: no repair exists before they are unlocked or leave.
    waiting : tuple of (str, int)
        Links that were refused before and would have a clear frequency, likewise with how many
        each; one more carrier may take those of another.
    """

    breaches: tuple[Breach, ...]
    must: tuple[str, ...]
    count_bound: int
    weight_bound: int
    newcomers: tuple[tuple[str, int], ...]
    repair: Repair | None
    locked: tuple[str, ...] = ()
    waiting: tuple[tuple[str, int], ...] = ()

    @property
    def harmless(self) -> bool:
        """Whether nothing would break, and nobody arrive in vain."""
        return not self.breaches

    @property
    def links(self) -> tuple[str, ...]:
        """All links that take part in something broken, in the order found."""
        return tuple(dict.fromkeys(name for breach in self.breaches for name in breach.links))

    def columns(self) -> Columns:
        """Return the breaches as columns.

        Returns
        -------
        Columns
            ``rule``, ``links`` (tuples of names), ``text``.
        """
        links = np.empty(len(self.breaches), dtype=object)
        for i, breach in enumerate(self.breaches):
            links[i] = breach.links
        return Columns(
            rule=np.array([breach.rule for breach in self.breaches], dtype=np.str_),
            links=links,
            text=np.array([breach.text for breach in self.breaches], dtype=np.str_),
        )

    def summary(self) -> str:
        """Tell what would break in plain text.

        Returns
        -------
        str
            Counts, then a line for each breach, and what a repair costs if it was asked for.
        """
        lines = [self._counted(), *(f"  {breach.text}" for breach in self.breaches)]
        if self.locked:
            names = ", ".join(self.locked)
            lines.append(f"Locked, and in the way of a repair until unlocked or dropped: {names}")
        lines += [f"  {name} arrives: {_clear(count)}" for name, count in self.newcomers]
        lines += [
            f"  {name} was refused before: {_clear(count)} now" for name, count in self.waiting
        ]
        if self.repair is not None:
            lines += ["", self.repair.summary()]
        return "\n".join(lines)

    def _counted(self) -> str:
        n = len(self.breaches)
        if not n:
            return "Nothing would break."
        rules = f"{n} rule{'' if n == 1 else 's'} would break"
        links = "1 link" if self.count_bound == 1 else f"{self.count_bound} links"
        return f"{rules}; at least {links} could not stay."

    def __repr__(self) -> str:
        return f"WhatIf({len(self.breaches)} breaches, at least {self.count_bound} cannot stay)"

    def _repr_html_(self) -> str:
        return f"<p>{html.escape(self._counted())}</p>{self.columns()._repr_html_()}"


def find_out(
    document: PlanDocument,
    changes: Sequence[object],
    *,
    on_air: OnAir = None,
    weights: Mapping[str, int] | None = None,
    repair: bool = False,
    seed: int = 0,
    seconds: float | None = None,
) -> WhatIf:
    """Tell what changes would break; see `Plan.what_if`."""
    scene = Scene(drafted(document, changes, on_air, locks_hold=False))
    desire = desire_of(scene, on_air, weights)
    broken = assess(scene, locks_hold=False)
    cover = broken.cover(desire.moved)
    alike = broken.cover(dict.fromkeys(range(scene.links), 1))
    newcomers = _newcomers(broken)
    breaches = [*_out_of_range(scene), *_violated(broken)]
    breaches += [
        Breach("room", (name,), f"{name} arrives and finds no clear frequency")
        for name, count in newcomers
        if not count
    ]
    gone = [scene.draft.after.assignments[i] for i in scene.lost]
    lost = [row.link for row in gone]
    involved = sorted({*broken.must}.union(*broken.conflicts))
    # A locked link takes part in a conflict only where all others are fixed, too.
    locked = [row.link for row in gone if row.locked]
    locked += [scene.names[i] for i in involved if scene.fixed[i]]
    found = None
    if repair and not locked:
        found = find_repair(
            document, changes, on_air=on_air, weights=weights, seed=seed, seconds=seconds
        )
    return WhatIf(
        breaches=tuple(breaches),
        must=(*lost, *(scene.names[i] for i in broken.must)),
        count_bound=len(lost) + len(broken.must) + alike.bound,
        weight_bound=sum(desire.moved[i] for i in broken.must) + cover.bound,
        newcomers=tuple(newcomers),
        repair=found,
        locked=tuple(locked),
        waiting=tuple(_waiting(broken)),
    )


def _out_of_range(scene: Scene) -> list[Breach]:
    lost = [scene.draft.after.assignments[i] for i in scene.lost]
    told = [
        Breach("frequency", (row.link,), f"nothing is left of what {_named(row)} can tune")
        for row in lost
    ]
    for i in scene.barred:
        row, hz = scene.records[i], mhz_text(int(scene.before_hz[i]))
        text = f"{_named(row)} may no longer stand on {hz} MHz"
        told.append(Breach("frequency", (row.link,), text))
    return told


def _clear(count: int) -> str:
    return f"{count:,} clear frequenc{'y' if count == 1 else 'ies'}"


def _named(row: AssignmentRecord) -> str:
    return f"{row.link} (locked)" if row.locked else row.link


def _violated(broken: Broken) -> list[Breach]:
    names = broken.scene.names
    return [
        Breach(violation.kind, tuple(names[i] for i in violation.links), violation.text)
        for violation in broken.violations
    ]


def _newcomers(broken: Broken) -> list[tuple[str, int]]:
    """Count the clear frequencies of each newcomer, those that must move being off the air."""
    return _clear_for(broken.scene, [*broken.must], broken.newcomers)


def _waiting(broken: Broken) -> list[tuple[str, int]]:
    """Count likewise for the links refused before; those with none are left out."""
    scene = broken.scene
    wide = Scene(with_refused(scene.draft))
    stood = {row.link for row in scene.draft.after.assignments}
    must = {scene.names[i] for i in broken.must}
    off = [i for i in range(wide.links) if wide.names[i] in must]
    refused = [i for i in range(wide.links) if wide.names[i] not in stood]
    return [(name, count) for name, count in _clear_for(wide, off, refused) if count]


def _clear_for(scene: Scene, off: Sequence[int], links: Sequence[int]) -> list[tuple[str, int]]:
    """Count the clear frequencies of links, these others being off the air."""
    import sidon

    if not links:
        return []
    state = sidon.State(scene.plain)
    column = scene.present.copy()
    column[list(off)] = REFUSED
    state.move_to(column)
    counts: dict[tuple[object, ...], int] = {}
    found = []
    for i in links:
        row = scene.records[i]
        # Links of one profile, zone and time that are off the air find the same.
        alike = row.profile, row.zone, tuple(row.windows)
        if alike not in counts:
            counts[alike] = int(np.count_nonzero(state.cost(i) < state.HARD))
        found.append((row.link, counts[alike]))
    return found
