"""The promise of the spares: any one link may move to any spare that is kept for it."""

from __future__ import annotations

import html
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sidon._columns import Columns
from sidon._frames import Framed
from sidon.event.desk import Desk, Room
from sidon.units import mhz_text

if TYPE_CHECKING:
    from sidon.plan.document import AssignmentRecord, PlanDocument
    from sidon.plan.recount import Carrier

__all__ = ["Kept", "SparePromise", "promised_spares", "spare_promise"]

_WIDTH = 92


@dataclass(frozen=True, slots=True)
class Kept:
    """One link and one spare of its zone.

    Attributes
    ----------
    link, spare, zone : str
        Their names.
    frequency_hz : int
        Where the spare stands.
    kind : str
        ``"dedicated"`` (same profile, zone and windows), ``"shared"``, or ``"other"`` for a spare
        of the zone that is kept for other links.
    tunable : bool
        Whether the link's profile may stand there.
    clean : bool
        Whether the link, moved there in place of the spare, breaks no rule.
    """

    link: str
    spare: str
    zone: str
    frequency_hz: int
    kind: str
    tunable: bool
    clean: bool

    @property
    def promised(self) -> bool:
        """Whether the spare is kept for this link."""
        return self.kind == "dedicated" or (self.kind == "shared" and self.tunable)


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class SparePromise(Framed):
    """Whether any one link may move to any spare that is kept for it. Immutable; pickles.

    Attributes
    ----------
    pairs : tuple of Kept
        Every required link with every spare of its zone.
    spares : tuple of str
        All spares with a carrier.
    bare : tuple of str
        Required links for which no spare is kept.
    """

    pairs: tuple[Kept, ...]
    spares: tuple[str, ...]
    bare: tuple[str, ...]

    @property
    def broken(self) -> tuple[Kept, ...]:
        """The pairs that are promised and would break a rule."""
        return tuple(pair for pair in self.pairs if pair.promised and not pair.clean)

    @property
    def holds(self) -> bool:
        """Whether every promise holds."""
        return not self.broken

    def columns(self) -> Columns:
        """Return the pairs as columns.

        Returns
        -------
        Columns
            ``link``, ``spare``, ``zone``, ``frequency_hz``, ``kind``, ``tunable``, ``promised``,
            ``clean``.
        """
        texts = ("link", "spare", "zone", "kind")
        columns = Columns(
            {
                name: np.array([getattr(p, name) for p in self.pairs], dtype=np.str_)
                for name in texts
            }
        )
        columns["frequency_hz"] = np.array([p.frequency_hz for p in self.pairs], dtype=np.int64)
        for name in ("tunable", "promised", "clean"):
            flags = [getattr(pair, name) for pair in self.pairs]
            columns[name] = np.array(flags, dtype=np.bool_)
        return columns

    def summary(self) -> str:
        """Tell the verdict in plain text.

        Returns
        -------
        str
            The verdict, by zone how many spares there are and how many links they serve, and each
            promise that is broken.
        """
        lines = [self._verdict()]
        zones = dict.fromkeys(pair.zone for pair in self.pairs)
        for zone in zones:
            own = [pair for pair in self.pairs if pair.zone == zone]
            shared = {p.spare for p in own if p.kind == "shared"}
            spares, links = {p.spare for p in own}, {p.link for p in own}
            helped = {p.link for p in own if p.promised and p.tunable}
            serve = "1 spare serves" if len(spares) == 1 else f"{len(spares)} spares serve"
            kinds = f" ({len(shared)} shared)" if shared else ""
            lines.append(f"  {zone}: {serve} {len(helped)} of {len(links)} links{kinds}")
        lines += [
            f"  broken: {pair.link} on {pair.spare}, {mhz_text(pair.frequency_hz)} MHz"
            for pair in self.broken
        ]
        if self.bare:
            n = len(self.bare)
            lines.append(f"{n} required link{'' if n == 1 else 's'} without a spare:")
            lines += _wrapped(self.bare)
        return "\n".join(lines)

    def _verdict(self) -> str:
        promised = sum(pair.promised for pair in self.pairs)
        if not self.spares:
            return "The plan has no spares."
        if self.holds:
            return f"The promise holds: {promised} moves to spares, each clean."
        return f"The promise is broken: {len(self.broken)} of {promised} moves break a rule."

    def __repr__(self) -> str:
        return f"SparePromise({self._verdict()})"

    def _repr_html_(self) -> str:
        return f"<p>{html.escape(self._verdict())}</p>{self.columns()._repr_html_()}"


def _wrapped(names: Sequence[str]) -> list[str]:
    """Fill lines with names; one is never broken."""
    kept = ", ".join(name.replace(" ", "\u00a0") for name in names)
    lines = textwrap.wrap(
        kept,
        _WIDTH,
        initial_indent="  ",
        subsequent_indent="  ",
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace("\u00a0", " ") for line in lines]


def promised_spares(document: PlanDocument, carrier: Carrier) -> list[str]:
    """List the spares kept for a link: dedicated ones of its kind, shared ones of its zone.

    Parameters
    ----------
    document : PlanDocument
        The plan.
    carrier : Carrier
        The link.

    Returns
    -------
    list of str
        Names; none for a spare.
    """
    if carrier.spare or carrier.foreign:
        return []
    windows = set(carrier.windows)

    def keeps(row: AssignmentRecord) -> bool:
        own = set(row.windows)
        if row.shared:
            return not own or bool(windows and windows <= own)
        return row.profile == carrier.profile and own == windows

    return [
        row.link
        for row in document.assignments
        if row.spare and row.zone == carrier.zone and keeps(row)
    ]


def spare_promise(document: PlanDocument) -> SparePromise:
    """Move every required link to every spare of its zone, in thought; see `Plan.spare_promise`."""
    desk = Desk.of(document)
    spares = {row.link: row for row in document.assignments if row.spare}
    pairs = []
    bare = []
    for i, carrier in enumerate(desk.carriers):
        if carrier.spare or carrier.foreign:
            continue
        own = [row for row in spares.values() if row.zone == carrier.zone]
        kept = set(promised_spares(document, carrier))
        room = Room(desk, i)
        clean = room.clear_without([desk.index[row.link] for row in own])
        tunable = np.isin([row.frequency_hz for row in own], room.candidates).tolist()
        if not any(row.link in kept and good for row, good in zip(own, tunable, strict=True)):
            bare.append(carrier.name)
        for row, can, good in zip(own, tunable, clean, strict=True):
            kind = "other"
            if row.link in kept:
                kind = "shared" if row.shared else "dedicated"
            pairs.append(Kept(carrier.name, row.link, row.zone, row.frequency_hz, kind, can, good))
    return SparePromise(pairs=tuple(pairs), spares=tuple(spares), bare=tuple(bare))
