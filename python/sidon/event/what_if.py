"""What a change would break while nobody moves."""

from __future__ import annotations

import html
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sidon._columns import Columns
from sidon.event.assess import Broken, Scene, assess
from sidon.event.repair import OnAir, desire_of, drafted, find_repair
from sidon.plan.hertz import mhz_text
from sidon.result import REFUSED

if TYPE_CHECKING:
    from sidon.event.outcome import Repair
    from sidon.plan.document import PlanDocument

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
class WhatIf:
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
        The repair, when it was asked for.
    """

    breaches: tuple[Breach, ...]
    must: tuple[str, ...]
    count_bound: int
    weight_bound: int
    newcomers: tuple[tuple[str, int], ...]
    repair: Repair | None

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

    def frame(self) -> Any:  # noqa: ANN401 - whichever data frame library is there
        """Return the breaches as a data frame of pandas, or else polars.

        Returns
        -------
        pandas.DataFrame or polars.DataFrame
            The columns of `columns`.

        Raises
        ------
        ImportError
            When neither is installed; `columns` needs neither.
        """
        from sidon.plan.tables import frame

        return frame(self.columns())

    def summary(self) -> str:
        """Tell what would break in plain text.

        Returns
        -------
        str
            Counts, then a line for each breach, and what a repair costs if it was asked for.
        """
        lines = [self._counted(), *(f"  {breach.text}" for breach in self.breaches)]
        lines += [
            f"  {name} arrives: {count:,} clear frequencies" for name, count in self.newcomers
        ]
        if self.repair is not None:
            lines += ["", self.repair.summary()]
        return "\n".join(lines)

    def _counted(self) -> str:
        n = len(self.breaches)
        if not n:
            return "Nothing would break."
        rules = f"{n} rule{'' if n == 1 else 's'} would break"
        return f"{rules}; at least {self.count_bound} links could not stay."

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
    scene = Scene(drafted(document, changes, on_air))
    desire = desire_of(scene, on_air, weights)
    broken = assess(scene)
    cover = broken.cover(desire.moved)
    alike = broken.cover(dict.fromkeys(range(scene.links), 1))
    newcomers = _newcomers(broken)
    breaches = [*_out_of_range(scene), *_violated(broken)]
    breaches += [
        Breach("room", (name,), f"{name} arrives and finds no clear frequency")
        for name, count in newcomers
        if not count
    ]
    found = None
    if repair:
        found = find_repair(
            document, changes, on_air=on_air, weights=weights, seed=seed, seconds=seconds
        )
    lost = [scene.draft.after.assignments[i].link for i in scene.lost]
    return WhatIf(
        breaches=tuple(breaches),
        must=(*lost, *(scene.names[i] for i in broken.must)),
        count_bound=len(lost) + len(broken.must) + alike.bound,
        weight_bound=sum(desire.moved[i] for i in broken.must) + cover.bound,
        newcomers=tuple(newcomers),
        repair=found,
    )


def _out_of_range(scene: Scene) -> list[Breach]:
    lost = [scene.draft.after.assignments[i] for i in scene.lost]
    told = [
        Breach("frequency", (row.link,), f"nothing is left of what {row.link} can tune")
        for row in lost
    ]
    for i in scene.barred:
        name, hz = scene.names[i], mhz_text(int(scene.before_hz[i]))
        told.append(Breach("frequency", (name,), f"{name} may no longer stand on {hz} MHz"))
    return told


def _violated(broken: Broken) -> list[Breach]:
    names = broken.scene.names
    return [
        Breach(violation.kind, tuple(names[i] for i in violation.links), violation.text)
        for violation in broken.violations
    ]


def _newcomers(broken: Broken) -> list[tuple[str, int]]:
    """Count the clear frequencies of each newcomer, those that must move being off the air."""
    import sidon

    scene = broken.scene
    if not broken.newcomers:
        return []
    state = sidon.State(scene.plain)
    column = scene.present.copy()
    column[list(broken.must)] = REFUSED
    state.move_to(column)
    return [
        (scene.names[i], int(np.count_nonzero(state.cost(i) < state.HARD)))
        for i in broken.newcomers
    ]
