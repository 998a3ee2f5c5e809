"""What must hold between the parts of a study: names, numbers that fit each other, locks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain

from sidon._faults import nearest
from sidon._schema import Part
from sidon.exceptions import Fault
from sidon.study.ask_rules import ask_faults
from sidon.study.availability import free_ranges, tuning, why_not, why_nothing
from sidon.study.draft import Draft
from sidon.study.schema import Demand, Incumbent, Profile, SharedSpares
from sidon.study.windows import clock_fault, on_air
from sidon.units import mhz_text

__all__ = ["cross_faults"]

# Beyond this a list of candidates no longer fits a table in memory.
_MOST_CANDIDATES = 1_000_000
_UNIT_HINT = "a number without unit is MHz: 350 kHz is 0.35 or '350 kHz'"


def cross_faults(draft: Draft) -> list[Fault]:
    """Find every fault between the parts of a study. O(n) in its entries.

    Parameters
    ----------
    draft : Draft
        What could be read of it.

    Returns
    -------
    list of Fault
        All faults, in the order of the file's sections.
    """
    return list(
        chain(
            _channels(draft),
            _duplicates(draft),
            _sizes(draft),
            _couplings(draft),
            _positions(draft),
            _clocks(draft),
            _references(draft),
            _link_names(draft),
            _domains(draft),
            _preferences(draft),
            _locks(draft),
            ask_faults(draft),
        )
    )


def _channels(draft: Draft) -> Iterator[Fault]:
    channels = draft.availability.items("occupied")
    if not channels or draft.availability.has("region"):
        return
    first, last = (draft.tv_raster.get(key) for key in ("first_number", "last_number"))
    if not draft.availability.has("tv_raster"):
        remedy = "add tv_raster with first_edge, width, first_number and last_number"
        yield Fault("availability.occupied", "occupied channels without a raster", remedy)
    seen: set[int] = set()
    for index, number in channels:
        place = f"availability.occupied[{index}]"
        if number in seen:
            yield Fault(place, f"channel {number} stands twice", "keep it once")
        elif isinstance(number, str):
            pass
        elif None not in (first, last) and first <= last and not first <= number <= last:
            what = f"channel {number} is not on the raster"
            yield Fault(place, what, f"use {first} to {last}")
        seen.add(number)


def _duplicates(draft: Draft) -> Iterator[Fault]:
    for section, names in draft.names.items():
        for index, name in enumerate(names):
            if name in names[:index]:
                what = f"the name {name!r} stands twice"
                yield Fault(f"{section}[{index}].name", what, "give each its own name")


def _sizes(draft: Draft) -> Iterator[Fault]:
    for index, profile in draft.profiles.items():
        edges = _edges(profile)
        # A part of a profile may be as narrow as one carrier.
        if edges is None or profile.get("part_of"):
            continue
        place, label = f"profiles[{index}]", profile.get("name") or "the profile"
        width = edges[1] - edges[0]
        sizes = [(key, key, profile.get(key)) for key in ("separation", "bandwidth", "raster")]
        sizes += [(f"guards.{f}", "guard", hz) for f, hz in profile.entries("guards")]
        for key, noun, hz in sizes:
            if hz is not None and hz > width:
                what = (
                    f"{noun} {mhz_text(hz)} MHz of {label!r} is larger than its tuning range of "
                    f"{mhz_text(width)} MHz"
                )
                yield Fault(f"{place}.{key}", what, f"reduce it; {_UNIT_HINT}")


def _edges(profile: Part[Profile]) -> tuple[int, int] | None:
    ranges = profile.get("ranges")
    if not ranges:
        return None
    return min(low for low, _ in ranges), max(high for _, high in ranges)


def _couplings(draft: Draft) -> Iterator[Fault]:
    seen: dict[frozenset[str], int] = {}
    for index, coupling in draft.couplings.items():
        place = f"couplings[{index}]"
        zones = [zone for _, zone in coupling.items("zones")]
        yield from _unknown(f"{place}.zones", "zone", zones, draft.names["zones"])
        if len(zones) != 2:
            continue
        pair = frozenset(zones)
        if len(pair) == 1:
            what = f"zone {zones[0]!r} is coupled to itself"
            yield Fault(place, what, "remove it: a zone is always fully coupled to itself")
        elif pair in seen:
            first = f"couplings[{seen[pair]}]"
            what = f"{' and '.join(zones)} are coupled already in {first}"
            yield Fault(place, what, "keep one of the two")
        seen.setdefault(pair, index)


def _positions(draft: Draft) -> Iterator[Fault]:
    placed = {row.get("name") for row in draft.zones.values() if row.get("position_m")}
    if placed and not draft.isolated:
        what = "zones have positions, but nothing is computed from them"
        remedy = "add a table isolation, which may be empty, or take the positions out"
        yield Fault("zones", what, remedy)
    for index, coupling in draft.couplings.items():
        row = coupling.whole
        known = row is None or {row.degree, row.isolation_db, row.distance_m} != {None}
        if row is not None and not known and not (draft.isolated and set(row.zones) <= placed):
            what = "walls are given, but no distance"
            yield Fault(
                f"couplings[{index}].walls", what, "add distance_m, or give both a position"
            )


def _clocks(draft: Draft) -> Iterator[Fault]:
    for index, part in draft.windows.items() if draft.timezone else ():
        window = part.whole
        for key in ("start", "end"):
            moment = part.get(key)
            fault = clock_fault(moment, draft.timezone or "") if moment else None
            if fault is None and moment and window is not None and window.margin:
                fault = clock_fault(
                    on_air(window, draft.timezone)[key == "end"], draft.timezone or ""
                )
                if fault:
                    fault = f"with its margin, {fault[0]}", "change the margin or the time"
            if fault:
                yield Fault(f"windows[{index}].{key}", *fault)


def _references(draft: Draft) -> Iterator[Fault]:
    rows: list[tuple[str, Part[Demand] | Part[Incumbent] | Part[SharedSpares]]] = [
        *((f"demand[{i}]", row) for i, row in draft.demand.items()),
        *((f"incumbents[{i}]", row) for i, row in draft.incumbents.items()),
        *((f"spares[{i}]", row) for i, row in draft.spares.items()),
    ]
    for place, row in rows:
        for key in ("profile", "zone"):
            name = row.get(key)
            if name is not None:
                yield from _unknown(f"{place}.{key}", key, [name], draft.names[f"{key}s"])
        windows = [name for _, name in row.items("windows")]
        yield from _unknown(f"{place}.windows", "window", windows, draft.names["windows"])


def _unknown(place: str, kind: str, used: list[str], known: list[str]) -> Iterator[Fault]:
    for name in used:
        if name not in known:
            yield Fault(place, f"the {kind} {name!r} is not defined", nearest(name, known))


@dataclass
class _Links:
    """The names of the links a row of demand asks for, as far as they can be read.

    Parameters
    ----------
    names : list of str
        Those that are certain.
    every : bool
        Whether there are no others.
    prefix : str or None
        How the others begin, when that is known.
    """

    names: list[str]
    every: bool
    prefix: str | None


def _links(row: Part[Demand]) -> _Links:
    if row.whole is not None:
        return _Links([*row.whole.link_ids, *row.whole.spare_ids], every=True, prefix=None)
    given = [name for _, name in row.items("ids")]
    name = row.get("id")
    if not given and name is not None:
        # Whatever their number, these are asked for.
        given = [f"{name}-{n}" for n in range(1, (row.get("count") or 1) + 1)]
    return _Links(given, every=False, prefix=f"{name}-" if name else None)


def _link_names(draft: Draft) -> Iterator[Fault]:
    first: dict[str, str] = {}
    for index, row in draft.demand.items():
        place = f"demand[{index}].{'ids' if row.items('ids') else 'id'}"
        for link in _links(row).names:
            if link in first:
                what = f"the link {link!r} is named already in {first[link]}"
                yield Fault(place, what, "give every link its own name")
                break
            first[link] = place
    for index, shared in draft.spares.items():
        place = f"spares[{index}].id"
        for link in shared.whole.spare_ids if shared.whole else ():
            if link in first:
                what = f"the spare {link!r} is named already in {first[link]}"
                yield Fault(place, what, "give every spare its own name")
                break
            first[link] = place
    for index, incumbent in draft.incumbents.items():
        place, name = f"incumbents[{index}].name", incumbent.get("name")
        if name is None:
            continue
        if name in first:
            what = f"the name {name!r} is used already in {first[name]}"
            yield Fault(place, what, "give every carrier its own name")
        first[name] = place


def _domains(draft: Draft) -> Iterator[Fault]:
    availability = draft.availability.whole
    if availability is None:
        return
    used = {row.get("profile") for row in draft.demand.values()}
    used |= {row.get("profile") for row in draft.spares.values()}
    free = free_ranges(availability)
    for index, part in draft.profiles.items():
        profile, edges = part.whole, _edges(part)
        if profile is None or edges is None or profile.name not in used:
            continue
        if profile.raster > edges[1] - edges[0]:
            continue
        place, size = f"profiles[{index}]", tuning(profile, free).size
        if size == 0:
            why = why_nothing(profile, availability)
            remedy = "free a channel, widen the tuning ranges, or take another profile"
            yield Fault(place, f"{profile.name!r} has no candidate frequency: {why}", remedy)
        elif size > _MOST_CANDIDATES:
            what = f"{profile.name!r} has {size:,} candidate frequencies"
            yield Fault(
                f"{place}.raster", what, f"use a coarser raster, at most {_MOST_CANDIDATES:,}"
            )


def _preferences(draft: Draft) -> Iterator[Fault]:
    rows: list[tuple[str, Part[Demand] | Part[SharedSpares]]] = [
        *((f"demand[{i}]", row) for i, row in draft.demand.items()),
        *((f"spares[{i}]", row) for i, row in draft.spares.items()),
    ]
    for place, row in rows:
        name = row.get("profile")
        profile = draft.profile(name)
        ranges = profile.get("ranges") if profile else None
        for number, (low, high) in row.items("preferred"):
            if ranges and not any(a <= high and low <= b for a, b in ranges):
                what = f"{mhz_text(low)}-{mhz_text(high)} MHz is outside the tuning of {name!r}"
                yield Fault(f"{place}.preferred[{number}]", what, "move it inside")


def _locks(draft: Draft) -> Iterator[Fault]:
    rows = {link: row for row in draft.demand.values() for link in _links(row).names}
    unsure = [links for links in map(_links, draft.demand.values()) if not links.every]
    availability = draft.availability.whole
    free = free_ranges(availability) if availability else []
    for link, hz in draft.locks.items():
        place = f"locks.{link}"
        if link not in rows:
            perhaps = any(row.prefix is None or link.startswith(row.prefix) for row in unsure)
            if draft.demand and not perhaps:
                remedy = nearest(link, list(rows))
                yield Fault(place, f"the link {link!r} is not in demand", remedy)
            continue
        part = draft.profile(rows[link].get("profile"))
        profile = part.whole if part else None
        if profile is None or availability is None or hz in tuning(profile, free):
            continue
        why = why_not(hz, profile, availability)
        what = f"{link!r} cannot stand on {mhz_text(hz)} MHz: {why}"
        yield Fault(place, what, "lock it to a frequency the profile may use, or drop the lock")
