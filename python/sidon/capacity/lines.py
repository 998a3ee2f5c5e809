"""The lines of the table: every profile or class and tuning range, as a case to be answered."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sidon.capacity.case import Case, Foreign
from sidon.capacity.need import Need, need_of
from sidon.equipment.catalogue import Catalogue
from sidon.exceptions import TooLargeError
from sidon.plan.caution import is_in_ear
from sidon.study.availability import blocks, free_ranges, tuning
from sidon.study.compile import zone_degrees
from sidon.study.schema import Availability, EquipmentClass, Profile, StudyModel
from sidon.units import mhz_text

__all__ = ["NOT_CHECKED", "Line", "case_of", "lines_of", "overlap", "plain_mhz", "unchecked"]

Span = tuple[int, int]

NOT_CHECKED = "not checked"
"""What the label of a block says that nobody has looked into."""

_ALL = "all"
_OTHER_RULES = 6
# Beyond this a list of candidates no longer fits a table in memory.
_MOST_CANDIDATES = 1_000_000
_FIGURES = (
    *("name", "kind", "bands", "raster", "raster_origin", "bandwidth", "separation"),
    *("guards", "mixes", "source", "as_of"),
)


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A profile or class, restricted to what one row tunes.

    Parameters
    ----------
    profile : Profile
        With the ranges of the row, on the raster of the whole.
    band : str
        The name of the range.
    generic : bool
        Whether it is a class of the catalogue.
    whole : bool
        Whether it is all that the profile tunes.
    need : Need
        What is wanted of it.
    foreign : tuple of Foreign
        Who is on the air there already.
    names : tuple of str
        The profiles whose demand it is.
    power : str
        Its power in words, as far as its class says it.
    """

    profile: Profile
    band: str
    generic: bool
    whole: bool
    need: Need
    foreign: tuple[Foreign, ...]
    names: tuple[str, ...] = ()
    power: str = ""

    @property
    def label(self) -> str:
        """What to call it."""
        return f"{self.profile.name} {self.band}"

    @property
    def in_ear(self) -> bool:
        """Whether it is for in-ear monitors."""
        return is_in_ear(f"{self.profile.name} {self.profile.kind}")


def lines_of(model: StudyModel, catalogue: Catalogue, generic: Sequence[str]) -> list[Line]:
    """List the lines of a study, then those of classes.

    Parameters
    ----------
    model : StudyModel
        The study.
    catalogue : Catalogue
        All classes.
    generic : sequence of str
        The names of those to list.

    Returns
    -------
    list of Line
        A row per tuning range, and one for all of them where they are several.
    """
    kinds = {
        profile.name: is_in_ear(f"{profile.name} {profile.kind}") for profile in model.profiles
    }
    found: list[Line] = []
    for profile in model.profiles:
        # What a party may use only in part is still of the whole.
        names = [profile.name, *(p.name for p in model.profiles if p.part_of == profile.name)]
        need = need_of(model, names, in_ears=kinds[profile.name])
        rows = _rows(profile, need, _foreign(model, need), generic=False)
        found += [replace(row, names=tuple(names)) for row in rows]
    for name in generic:
        entry = catalogue[name]
        in_ears = is_in_ear(f"{entry.name} {entry.kind}")
        names = [profile for profile, kind in kinds.items() if kind == in_ears]
        need = need_of(model, names, in_ears=in_ears)
        rows = _rows(_as_profile(entry), need, _foreign(model, need), generic=True)
        found += [replace(row, names=tuple(names), power=entry.power) for row in rows]
    return found


def _rows(
    profile: Profile, need: Need, foreign: tuple[Foreign, ...], *, generic: bool
) -> Iterable[Line]:
    bands = {name: [span] for name, span in profile.bands.items()}
    if not bands:
        bands = {_span(span): [span] for span in sorted(set(profile.ranges))}
    spans = [span for ranges in bands.values() for span in ranges]
    widest = next(
        (n for n, (s,) in bands.items() if all(s[0] <= a and b <= s[1] for a, b in spans)), None
    )
    # A class is one of its variants; a profile may be a stock of several.
    if widest is None and not generic:
        bands[_ALL] = spans
        widest = _ALL
    for name, ranges in bands.items():
        part = profile.model_copy(update={"ranges": ranges, "raster_origin": profile.origin_hz})
        yield Line(part, name, generic, name == widest, need, foreign)


def _span(span: Span) -> str:
    return f"{plain_mhz(span[0])}-{plain_mhz(span[1])}"


def plain_mhz(hz: int) -> str:
    """Write hertz as MHz without zeros at the end.

    Parameters
    ----------
    hz : int
        A frequency.

    Returns
    -------
    str
        Such as "470" or "863.1".
    """
    return mhz_text(hz).rstrip("0").rstrip(".")


def _as_profile(entry: EquipmentClass) -> Profile:
    fields = {name: getattr(entry, name) for name in _FIGURES}
    return Profile.model_construct(ranges=list(entry.bands.values()), **fields)


def _foreign(model: StudyModel, need: Need) -> tuple[Foreign, ...]:
    """List the foreign carriers in the air of some zones, at whatever time they are on."""
    profiles = {profile.name: profile for profile in model.profiles}
    apart = {frozenset(pair): degree for pair, degree in zone_degrees(model).items()}
    found = []
    for row in model.incumbents:
        degrees = [
            "full" if zone == row.zone else apart[frozenset((zone, row.zone))]
            for zone in need.where
        ]
        if need.where and all(degree == "none" for degree in degrees):
            continue
        kind = profiles[row.profile]
        found.append(Foreign(row.frequency, kind.separation, _guards(kind), kind.mixes))
    return tuple(sorted(dict.fromkeys(found), key=lambda row: row.hz))


def case_of(line: Line, availability: Availability, *, waived: Sequence[str] = ()) -> Case:
    """Turn a line into a case.

    Parameters
    ----------
    line : Line
        The line.
    availability : Availability
        What is free.
    waived : sequence of str, optional
        Forms whose guards are waived.

    Returns
    -------
    Case
        Its candidates and rules.

    Raises
    ------
    TooLargeError
        The raster is too fine for the range.
    """
    profile = line.profile
    where = tuning(profile, free_ranges(availability))
    if where.size > _MOST_CANDIDATES:
        what, why = f"the tuning range {line.label}", f"it has {where.size:,} candidate frequencies"
        raise TooLargeError(what, why, f"use a coarser raster, at most {_MOST_CANDIDATES:,}")
    candidates = np.array(where.candidates_hz(), dtype=np.int64)
    for row in line.foreign:
        distance = max(profile.separation, row.separation)
        candidates = candidates[np.abs(candidates - row.hz) >= distance]

    def kept(guards: tuple[tuple[str, int], ...]) -> tuple[tuple[str, int], ...]:
        return tuple((form, hz) for form, hz in guards if form not in waived)

    return Case(
        line.label,
        candidates,
        profile.separation,
        kept(_guards(profile)),
        profile.mixes,
        tuple(replace(row, guards=kept(row.guards)) for row in line.foreign),
        # Other rules make another question; a channel more only takes from an answer.
        weight=_OTHER_RULES if waived else 1,
    )


def _guards(profile: Profile) -> tuple[tuple[str, int], ...]:
    return tuple(sorted((form, hz) for form, hz in profile.guards.items() if hz))


def unchecked(spans: Sequence[Span], availability: Availability) -> int:
    """Count the hertz of tuning ranges about which the study says nothing.

    Parameters
    ----------
    spans : sequence of (int, int)
        Tuning ranges.
    availability : Availability
        As written.

    Returns
    -------
    int
        What lies outside its ranges, or in a block that is called not checked.
    """
    merged = _union(spans)
    checked = _union(availability.ranges)
    dark = _union([(b.low_hz, b.high_hz) for b in blocks(availability) if NOT_CHECKED in b.label])
    lit = overlap(merged, checked) - sum(overlap([part], dark) for part in _common(merged, checked))
    return sum(high - low for low, high in merged) - lit


def overlap(spans: Sequence[Span], others: Sequence[Span]) -> int:
    """Count the hertz that two lists of ranges have in common.

    Parameters
    ----------
    spans, others : sequence of (int, int)
        In hertz; ranges of one list may overlap.

    Returns
    -------
    int
        Hertz.
    """
    return sum(high - low for low, high in _common(_union(spans), _union(others)))


def _common(spans: Sequence[Span], others: Sequence[Span]) -> list[Span]:
    pairs = [(max(a, c), min(b, d)) for a, b in spans for c, d in others]
    return [(low, high) for low, high in pairs if low < high]


def _union(spans: Iterable[Span]) -> list[Span]:
    merged: list[Span] = []
    for low, high in sorted(spans):
        if merged and low <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(high, merged[-1][1]))
        else:
            merged.append((low, high))
    return merged
