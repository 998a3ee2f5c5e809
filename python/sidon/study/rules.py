"""What must hold between the parts of a study: names, numbers that fit each other, locks."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from sidon.exceptions import Fault
from sidon.plan.hertz import mhz_text
from sidon.study.availability import free_ranges, tuning, why_not, why_nothing
from sidon.study.draft import Draft
from sidon.study.faults import nearest
from sidon.study.schema import Demand, Incumbent, Profile

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
            _references(draft),
            _link_names(draft),
            _domains(draft),
            _preferences(draft),
            _locks(draft),
        )
    )


def _channels(draft: Draft) -> Iterator[Fault]:
    availability = draft.availability
    if availability is None or not availability.occupied:
        return
    raster = availability.tv_raster
    if raster is None:
        remedy = "add tv_raster with first_edge, width, first_number and last_number"
        yield Fault("availability.occupied", "occupied channels without a raster", remedy)
        return
    for index, number in enumerate(availability.occupied):
        place = f"availability.occupied[{index}]"
        if not raster.first_number <= number <= raster.last_number:
            known = f"{raster.first_number} to {raster.last_number}"
            yield Fault(place, f"channel {number} is not on the raster", f"use {known}")
        elif number in availability.occupied[:index]:
            yield Fault(place, f"channel {number} stands twice", "keep it once")


def _duplicates(draft: Draft) -> Iterator[Fault]:
    for section, names in draft.names.items():
        for index, name in enumerate(names):
            if name in names[:index]:
                what = f"the name {name!r} stands twice"
                yield Fault(f"{section}[{index}].name", what, "give each its own name")


def _sizes(draft: Draft) -> Iterator[Fault]:
    for index, profile in draft.profiles.items():
        place = f"profiles[{index}]"
        low, high = _edges(profile)
        width = f"its tuning range of {mhz_text(high - low)} MHz"
        for key in ("separation", "bandwidth", "raster"):
            hz = getattr(profile, key)
            if hz > high - low:
                what = f"{key} {mhz_text(hz)} MHz of {profile.name!r} is larger than {width}"
                yield Fault(f"{place}.{key}", what, f"reduce it; {_UNIT_HINT}")
        for form, hz in profile.guards.items():
            if hz > high - low:
                what = f"guard {mhz_text(hz)} MHz of {profile.name!r} is larger than {width}"
                yield Fault(f"{place}.guards.{form}", what, f"reduce it; {_UNIT_HINT}")


def _edges(profile: Profile) -> tuple[int, int]:
    return min(low for low, _ in profile.ranges), max(high for _, high in profile.ranges)


def _couplings(draft: Draft) -> Iterator[Fault]:
    seen: dict[frozenset[str], int] = {}
    for index, coupling in draft.couplings.items():
        place = f"couplings[{index}]"
        yield from _unknown(f"{place}.zones", "zone", coupling.zones, draft.names["zones"])
        pair = frozenset(coupling.zones)
        if len(pair) == 1:
            what = f"zone {coupling.zones[0]!r} is coupled to itself"
            yield Fault(place, what, "remove it: a zone is always fully coupled to itself")
        elif pair in seen:
            first = f"couplings[{seen[pair]}]"
            what = f"{' and '.join(coupling.zones)} are coupled already in {first}"
            yield Fault(place, what, "keep one of the two")
        seen.setdefault(pair, index)


def _references(draft: Draft) -> Iterator[Fault]:
    rows: list[tuple[str, Demand | Incumbent]] = [
        *((f"demand[{i}]", row) for i, row in draft.demand.items()),
        *((f"incumbents[{i}]", row) for i, row in draft.incumbents.items()),
    ]
    for place, row in rows:
        yield from _unknown(f"{place}.profile", "profile", [row.profile], draft.names["profiles"])
        yield from _unknown(f"{place}.zone", "zone", [row.zone], draft.names["zones"])
        yield from _unknown(f"{place}.windows", "window", row.windows, draft.names["windows"])


def _unknown(place: str, kind: str, used: list[str], known: list[str]) -> Iterator[Fault]:
    for name in used:
        if name not in known:
            yield Fault(place, f"the {kind} {name!r} is not defined", nearest(name, known))


def _link_names(draft: Draft) -> Iterator[Fault]:
    first: dict[str, str] = {}
    for index, row in draft.demand.items():
        key = "ids" if row.ids else "id"
        for link in [*row.link_ids, *row.spare_ids]:
            place = f"demand[{index}].{key}"
            if link in first:
                what = f"the link {link!r} is named already in {first[link]}"
                yield Fault(place, what, "give every link its own name")
                break
            first[link] = place
    for index, incumbent in draft.incumbents.items():
        place = f"incumbents[{index}].name"
        if incumbent.name in first:
            what = f"the name {incumbent.name!r} is used already in {first[incumbent.name]}"
            yield Fault(place, what, "give every carrier its own name")
        first[incumbent.name] = place


def _domains(draft: Draft) -> Iterator[Fault]:
    if draft.availability is None:
        return
    used = {row.profile for row in draft.demand.values()}
    free = free_ranges(draft.availability)
    for index, profile in draft.profiles.items():
        low, high = _edges(profile)
        if profile.name not in used or profile.raster > high - low:
            continue
        place, size = f"profiles[{index}]", tuning(profile, free).size
        if size == 0:
            why = why_nothing(profile, draft.availability)
            remedy = "free a channel, widen the tuning ranges, or take another profile"
            yield Fault(place, f"{profile.name!r} has no candidate frequency: {why}", remedy)
        elif size > _MOST_CANDIDATES:
            what = f"{profile.name!r} has {size:,} candidate frequencies"
            yield Fault(
                f"{place}.raster", what, f"use a coarser raster, at most {_MOST_CANDIDATES:,}"
            )


def _preferences(draft: Draft) -> Iterator[Fault]:
    for index, row in draft.demand.items():
        profile = draft.profile(row.profile)
        for number, (low, high) in enumerate(row.preferred):
            if profile and not any(a <= high and low <= b for a, b in profile.ranges):
                what = (
                    f"{mhz_text(low)}-{mhz_text(high)} MHz is outside the tuning of {row.profile!r}"
                )
                yield Fault(f"demand[{index}].preferred[{number}]", what, "move it inside")


def _locks(draft: Draft) -> Iterator[Fault]:
    rows = {link: row for row in draft.demand.values() for link in [*row.link_ids, *row.spare_ids]}
    free = free_ranges(draft.availability) if draft.availability else []
    for link, hz in draft.locks.items():
        place = f"locks.{link}"
        if link not in rows:
            if draft.complete:
                remedy = nearest(link, list(rows))
                yield Fault(place, f"the link {link!r} is not in demand", remedy)
            continue
        profile = draft.profile(rows[link].profile)
        if profile is None or draft.availability is None or hz in tuning(profile, free):
            continue
        why = why_not(hz, profile, draft.availability)
        what = f"{link!r} cannot stand on {mhz_text(hz)} MHz: {why}"
        yield Fault(place, what, "lock it to a frequency the profile may use, or drop the lock")
