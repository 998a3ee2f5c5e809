"""How many carriers are wanted in one air: now, with spares, and after some years."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from sidon.capacity.in_ears import in_ear_transmitters
from sidon.study.ask import CapacityAsk
from sidon.study.compile import zone_degrees
from sidon.study.schema import Demand, StudyModel
from sidon.study.share import of
from sidon.study.windows import on_air

__all__ = [
    "ASSUMED_GROWTH",
    "ASSUMED_SPARES",
    "Need",
    "assumptions",
    "grown",
    "need_of",
    "needs_together",
    "worst",
]

ASSUMED_GROWTH = "25 %"
ASSUMED_SPARES = "20 %"
_MOST_ZONES = 24
"""Beyond so many zones all of them are taken to share the air, which is cautious and quick."""


@dataclass(frozen=True, slots=True)
class Need:
    """Carriers wanted in one air.

    Parameters
    ----------
    asked, spares : int
        Required carriers and spares now.
    asked_later, spares_later : int
        The same after growth.
    where : tuple of str
        The zones that share the air where most are wanted.
    """

    asked: int = 0
    spares: int = 0
    asked_later: int = 0
    spares_later: int = 0
    where: tuple[str, ...] = ()

    @property
    def now(self) -> int:
        """Carriers wanted now, spares included."""
        return self.asked + self.spares

    @property
    def later(self) -> int:
        """Carriers wanted after growth, spares included."""
        return self.asked_later + self.spares_later


def need_of(model: StudyModel, names: Collection[str], *, in_ears: bool) -> Need:
    """Count what is wanted of some profiles together.

    Parameters
    ----------
    model : StudyModel
        The study.
    names : collection of str
        The profiles.
    in_ears : bool
        Whether these are in-ear monitors, where the study asks for counts and not for links.

    Returns
    -------
    Need
        The worst of all moments and all sets of zones that share the air.
    """
    ask = model.capacity or CapacityAsk()
    if model.demand:
        asked, reserve, where = worst(model, names)
        spares = reserve if ask.spares is None else of(ask.spares, asked)
    else:
        where = ()
        asked = ask.ask or 0
        if in_ears:
            mixes = ask.in_ears
            asked = (
                in_ear_transmitters(stereo=mixes.stereo, mono=mixes.mono, dual_mono=mixes.dual_mono)
                if mixes
                else 0
            )
        spares = of(ask.spares or ASSUMED_SPARES, asked)
    return grown(asked, spares, ask, where)


def needs_together(
    model: StudyModel, first: Collection[str], second: Collection[str]
) -> tuple[Need, Need] | None:
    """Count what is wanted of two kinds at once in one air.

    Parameters
    ----------
    model : StudyModel
        The study, with demand.
    first, second : collection of str
        The profiles of each kind, which have none in common.

    Returns
    -------
    (Need, Need) or None
        At the moment and in the zones where most of both are wanted; None where both never are.
    """
    ask = model.capacity or CapacityAsk()
    counts, where = _most(model, [first, second])
    if not all(asked for asked, _ in counts):
        return None
    one, two = (
        grown(asked, reserve if ask.spares is None else of(ask.spares, asked), ask, where)
        for asked, reserve in counts
    )
    return one, two


def grown(asked: int, spares: int, ask: CapacityAsk, where: tuple[str, ...] = ()) -> Need:
    """Let a need grow as the study says; spares grow along unless their number is fixed.

    Parameters
    ----------
    asked, spares : int
        Carriers now.
    ask : CapacityAsk
        What the study says of growth.
    where : tuple of str, optional
        Zones, to be kept.

    Returns
    -------
    Need
        Now and later.
    """
    if not asked:
        return Need(where=where)
    more = ask.rooms.count * ask.rooms.carriers if ask.rooms else None
    later = asked + (of(ask.growth or ASSUMED_GROWTH, asked) if more is None else more)
    along = -(-spares * later // asked)
    return Need(asked, spares, later, along if ask.spares is None else of(ask.spares, later), where)


def assumptions(model: StudyModel) -> list[str]:
    """Say what was assumed because the study does not say it.

    Parameters
    ----------
    model : StudyModel
        The study.

    Returns
    -------
    list of str
        Sentences.
    """
    ask = model.capacity or CapacityAsk()
    found = []
    if ask.spares is None and not model.demand:
        found.append(f"Spares: {ASSUMED_SPARES} of what is asked is assumed (common practice).")
    if ask.growth is None and ask.rooms is None:
        found.append(
            f"Growth: {ASSUMED_GROWTH} in {ask.years} years is assumed; say growth or rooms in "
            "[capacity] of the study."
        )
    if ask.rooms is not None:
        found.append(
            "Growth by rooms: they are taken to share the air with all that is there, and every "
            "kind is taken to grow by all their carriers."
        )
    return found


def worst(model: StudyModel, names: Collection[str]) -> tuple[int, int, tuple[str, ...]]:
    """Find where and when most carriers of some profiles are wanted in one air.

    Parameters
    ----------
    model : StudyModel
        The study.
    names : collection of str
        The profiles.

    Returns
    -------
    (int, int, tuple of str)
        Required carriers, spares, and the zones. Zones share the air unless they are isolated:
        where only products do not reach, carriers still need frequencies of their own.
    """
    ((required, spares),), zones = _most(model, [names])
    return required, spares, zones


_Counts = list[tuple[int, int]]


def _most(model: StudyModel, kinds: Sequence[Collection[str]]) -> tuple[_Counts, tuple[str, ...]]:
    """Find where and when most carriers of some kinds are wanted at once, each of them some."""
    rows = [row for row in model.demand if any(row.profile in names for names in kinds)]
    best: tuple[_Counts, tuple[str, ...]] = [(0, 0)] * len(kinds), ()
    most = 0, 0
    for moment in _moments(model, rows):
        there = [row for row in rows if _on_air(model, row, moment)]
        for zones in _sharing(model, list(dict.fromkeys(row.zone for row in there))):
            counts = []
            for names in kinds:
                own = [row for row in there if row.zone in zones and row.profile in names]
                counts.append((sum(r.size for r in own), sum(r.spare_count for r in own)))
            asked = sum(n for n, _ in counts)
            total = asked + sum(n for _, n in counts), asked
            if total > most and all(n for n, _ in counts):
                best, most = (counts, zones), total
    return best


def _moments(model: StudyModel, rows: list[Demand]) -> list[dt.datetime | None]:
    """List the starts of windows, where the number on the air can rise; None for no window."""
    used = {name for row in rows for name in row.windows}
    starts = {on_air(w, model.timezone)[0] for w in model.windows if w.name in used}
    return [*sorted(starts)] or [None]


def _on_air(model: StudyModel, row: Demand, moment: dt.datetime | None) -> bool:
    if not row.windows or moment is None:
        return True
    times = [on_air(w, model.timezone) for w in model.windows if w.name in row.windows]
    return any(start <= moment < end for start, end in times)


def _sharing(model: StudyModel, zones: list[str]) -> Iterator[tuple[str, ...]]:
    """List the largest sets of zones of which every two share the air (Bron and Kerbosch 1973)."""
    if len(zones) > _MOST_ZONES:
        yield tuple(zones)
        return
    degrees = zone_degrees(model)
    near: dict[str, set[str]] = {zone: set() for zone in zones}
    for (a, b), degree in degrees.items():
        if degree != "none" and a in near and b in near:
            near[a].add(b)
            near[b].add(a)
    yield from _cliques(near, [], list(zones), [])


def _cliques(
    near: dict[str, set[str]], chosen: list[str], open_: list[str], done: list[str]
) -> Iterator[tuple[str, ...]]:
    if not open_ and not done:
        yield tuple(chosen)
        return
    pivot = max([*open_, *done], key=lambda zone: len(near[zone].intersection(open_)))
    for zone in [zone for zone in open_ if zone not in near[pivot]]:
        yield from _cliques(
            near,
            [*chosen, zone],
            [z for z in open_ if z in near[zone]],
            [z for z in done if z in near[zone]],
        )
        open_ = [z for z in open_ if z != zone]
        done = [*done, zone]
