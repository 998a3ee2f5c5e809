"""From region and stations to what is available at the place, with the reason for each gap."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import chain
from typing import Any

from sidon._schema import Part
from sidon.exceptions import Fault
from sidon.spectrum.given import band_faults, name_faults
from sidon.spectrum.propagation import Propagation
from sidon.spectrum.region import Region
from sidon.spectrum.report import PlaceReport, place_report
from sidon.spectrum.sound import station_faults
from sidon.spectrum.status import Entry, Terms, allowed, within
from sidon.study.place_schema import StationTable, missed
from sidon.study.schema import Availability, BlockedChannel, Exclusion, Place, StudyModel

__all__ = ["at_place", "only_nothing", "place_faults", "report_at", "terms_of"]

Span = tuple[int, int]

_LONGEST_REASON = 80
_NOTHING = "may be used as it is"


def place_faults(
    mapping: object, availability: Part[Availability], *, usable: bool = True
) -> list[Fault]:
    """Find what is wrong with what a study says about its place.

    Parameters
    ----------
    mapping : mapping
        The study, with the files it names.
    availability : Part of Availability
        What could be read of it.
    usable : bool, default True
        Whether it is a fault that no band may be used.

    Returns
    -------
    list of Fault
        All of them.
    """
    if not isinstance(mapping, Mapping):
        return []
    if not availability.has("region"):
        written = mapping.get("availability")
        if isinstance(written, Mapping) and missed(written):
            return []
        return list(_without_region(availability))
    choice = availability.get("region")
    region = choice.region if choice is not None else None
    if region is None:
        return []
    place = Part(StudyModel, mapping).part("place", Place)
    return list(
        chain(
            _raster(availability),
            _channels(region, availability),
            _confirmed(region, availability),
            _stations(region, availability, place),
            _nothing(region, availability) if usable else (),
        )
    )


def _without_region(availability: Part[Availability]) -> Iterator[Fault]:
    for key in ("stations", "licensed", "confirmed", "indoor", "propagation"):
        if availability.has(key) and availability.get(key) != []:
            what = f"{key} without a region says nothing"
            yield Fault(f"availability.{key}", what, "add availability.region, such as 'us'")
    for index, name in availability.items("occupied"):
        if isinstance(name, str):
            what = f"channel {name!r} without a region"
            remedy = "add availability.region, or number channels by tv_raster"
            yield Fault(f"availability.occupied[{index}]", what, remedy)


def _raster(availability: Part[Availability]) -> Iterator[Fault]:
    if availability.has("tv_raster"):
        what = "both a region and a raster say how channels are numbered"
        yield Fault("availability.tv_raster", what, "drop it, or write a region file of your own")


def _channels(region: Region, availability: Part[Availability]) -> Iterator[Fault]:
    known = {channel.name for channel in region.channels}
    seen: set[str] = set()
    for index, name in availability.items("occupied"):
        place = f"availability.occupied[{index}]"
        if str(name) in seen:
            yield Fault(place, f"channel {name} stands twice", "keep it once")
        elif str(name) not in known:
            what = f"{region.name!r} has no channel {name}"
            yield Fault(place, what, f"use {region.channel_words}")
        seen.add(str(name))
    indoor = availability.get("indoor")
    for name in indoor.measured_dbm if indoor is not None else ():
        if name not in known:
            what = f"{region.name!r} has no channel {name}"
            remedy = f"use {region.channel_words}"
            yield Fault(f"availability.indoor.measured_dbm.{name}", what, remedy)


def _confirmed(region: Region, availability: Part[Availability]) -> Iterator[Fault]:
    return name_faults(region, availability.items("confirmed"), "availability.confirmed")


def _stations(
    region: Region, availability: Part[Availability], place: Part[Place]
) -> Iterator[Fault]:
    table = availability.get("stations")
    if not isinstance(table, StationTable):
        return
    where: list[float | None] = []
    for key in ("latitude", "longitude"):
        where.append(place.get(key))
        if not place.has(key):
            what = "stations say nothing without a place"
            yield Fault(f"place.{key}", what, f"write the {key} in degrees, as a decimal fraction")
    yield from band_faults(region, enumerate(table.covers), "availability.stations.covers")
    name = table.file or "availability.stations"
    yield from station_faults(region, table.rows, where[0], where[1], name=name)


def _nothing(region: Region, availability: Part[Availability]) -> Iterator[Fault]:
    whole = availability.whole
    if whole is None or _available(region, whole):
        return
    terms = terms_of(whole)
    meant = [
        band
        for band in region.bands
        if not whole.ranges or any(_meet(a, b) for a in band.ranges for b in whole.ranges)
    ]
    unsure = [b.name for b in meant if not terms.trusts(b.name, checked=b.checked)]
    licence = [b.name for b in meant if b.basis == "licence" and not whole.licensed]
    remedies = []
    if licence:
        names = ", ".join(licence)
        remedies.append(f"set licensed = true if you hold what it takes for {names}")
    if unsure:
        names = ", ".join(repr(name) for name in unsure)
        remedies.append(f"list in confirmed what you have checked yourself, of {names}")
    remedy = "; ".join(remedies) or "write ranges that the bands of the region cover"
    remedy += "; sidon place tells for every channel what is not checked"
    yield Fault("availability.region", f"no band of {region.name!r} {_NOTHING}", remedy)


def only_nothing(faults: Sequence[Fault]) -> bool:
    """Tell whether all that is wrong with a study is that no band of its region may be used.

    Parameters
    ----------
    faults : sequence of Fault
        What is wrong.

    Returns
    -------
    bool
        Then the status of every channel can be told all the same.
    """
    return bool(faults) and all(
        fault.place == "availability.region" and fault.what.endswith(_NOTHING) for fault in faults
    )


def at_place(
    mapping: object, availability: Part[Availability], *, sound: bool
) -> tuple[Availability | None, PlaceReport | None]:
    """Work out what is available at the place of a study that may hold faults elsewhere.

    Parameters
    ----------
    mapping : mapping
        The study, with the files it names.
    availability : Part of Availability
        What could be read of it.
    sound : bool
        Whether no fault was found yet.

    Returns
    -------
    availability : Availability or None
        Ranges and exclusions, each with its reason; as written where no region is named, and None
        where faults leave it open.
    report : PlaceReport or None
        The status of every channel, where a region is named.
    """
    whole = availability.whole
    if whole is None or whole.region is None or not isinstance(mapping, Mapping):
        return whole, None
    place = Part(StudyModel, mapping).part("place", Place).whole
    return _resolved(whole, place) if sound and place is not None else (None, None)


def _resolved(availability: Availability, place: Place) -> tuple[Availability, PlaceReport | None]:
    region = availability.region.region if availability.region is not None else None
    if region is None:
        return availability, None
    report = report_at(region, availability, place)
    free = _available(region, availability)
    ranges = availability.ranges or free
    taken = [*availability.exclusions, *_outside(region, ranges, free, terms_of(availability))]
    taken += _taken(report.entries, ranges, availability.edge_guard)
    update = {
        "ranges": ranges,
        "occupied": [],
        "exclusions": taken,
        "source": report.terms.source,
    }
    return availability.model_copy(update=update), report


def report_at(region: Region, availability: Availability, place: Place) -> PlaceReport:
    """Give every channel its status at the place of a sound study.

    Parameters
    ----------
    region : Region
        Its region.
    availability : Availability
        As written.
    place : Place
        As written.

    Returns
    -------
    PlaceReport
        Whether or not any band may be used.
    """
    table = availability.stations
    report = place_report(
        region,
        table.rows if table is not None else None,
        # Half a place matters to stations alone, and those have been checked.
        latitude=None if place.longitude is None else place.latitude,
        longitude=None if place.latitude is None else place.longitude,
        propagation=availability.propagation or Propagation(),
        building=availability.indoor.building if availability.indoor else None,
        **_terms_of(availability),
    )
    return replace(report, ignored=tuple(table.ignored) if table is not None else ())


def _terms_of(availability: Availability) -> dict[str, Any]:
    table = availability.stations
    said = "occupied" in availability.model_fields_set
    named = table.file if table is not None and table.file else ""
    return {
        "licensed": bool(availability.licensed),
        "confirmed": availability.confirmed,
        "covers": table.covers if table is not None else [],
        "occupied": [str(name) for name in availability.occupied] if said else None,
        "measured_dbm": availability.indoor.measured_dbm if availability.indoor else {},
        "as_of": availability.as_of,
        "source": availability.source or named,
    }


def terms_of(availability: Availability) -> Terms:
    """Say what a study holds, knows and has measured.

    Parameters
    ----------
    availability : Availability
        As written.

    Returns
    -------
    Terms
        By which bands and channels are judged.
    """
    fields = _terms_of(availability)
    fields["confirmed"] = frozenset(fields["confirmed"])
    fields["covers"] = frozenset(fields["covers"])
    fields["occupied"] = None if fields["occupied"] is None else frozenset(fields["occupied"])
    return Terms(**fields)


def _available(region: Region, availability: Availability) -> list[Span]:
    """List what the bands of the region allow, inside the ranges of the study if it has any."""
    terms = terms_of(availability)
    spans = sorted(span for band in region.bands if allowed(band, terms) for span in band.ranges)
    merged: list[Span] = []
    for low, high in spans:
        if merged and low <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(high, merged[-1][1]))
        else:
            merged.append((low, high))
    kept = [entry.range for entry in region.reserved]
    free = [piece for span in merged for piece in within(span, without=kept)]
    if not availability.ranges:
        return free
    pieces = [
        (max(low, a), min(high, b)) for low, high in free for a, b in sorted(availability.ranges)
    ]
    return sorted({piece for piece in pieces if piece[0] < piece[1]})


def _outside(
    region: Region, ranges: Sequence[Span], free: Sequence[Span], terms: Terms
) -> Iterator[Exclusion]:
    """List what the study calls available and the region does not."""
    # What was seen in its source comes first where several rules meet.
    sure = [band for band in region.bands if terms.trusts(band.name, checked=band.checked)]
    unsure = [band for band in region.bands if band not in sure]
    reasons = [
        *((kept.range, f"not allowed: {kept.reason}") for kept in region.reserved),
        *((span, f"needs a licence: {band.name}") for band in sure for span in band.ranges),
        *((span, f"not checked: {band.name}") for band in unsure for span in band.ranges),
    ]
    for span in ranges:
        left = within(span, without=free)
        for rule, reason in reasons:
            for low, high in left:
                if _meet((low, high), rule):
                    yield _exclusion((max(low, rule[0]), min(high, rule[1])), reason)
            left = [rest for piece in left for rest in within(piece, without=[rule])]
        for piece in left:
            yield _exclusion(piece, f"not checked: no rule of {region.name!r} covers it")


def _taken(entries: Sequence[Entry], ranges: Sequence[Span], guard: int) -> Iterator[Exclusion]:
    channels = {entry.channel: entry for entry in entries if entry.channel}
    for entry in entries:
        span = entry.low_hz, entry.high_hz
        if not entry.channel:
            continue
        if entry.status == "blocked":
            span = span[0] - guard, span[1] + guard
        if entry.status == "adjacent" and guard:
            for name in entry.beside:
                if channels[name].status == "blocked":
                    continue  # it brings its guard along
                below = channels[name].high_hz == span[0]
                side = (span[0], span[0] + guard) if below else (span[1] - guard, span[1])
                if any(_meet(side, piece) for piece in ranges):
                    yield _exclusion(side, f"guard in channel {entry.channel} beside {name}")
        if entry.status in ("usable", "adjacent"):
            continue
        if any(_meet(span, piece) for piece in ranges):
            left_out = _exclusion(span, f"channel {entry.channel} {entry.status}: {entry.reason}")
            yield _numbered(left_out, entry) if entry.status == "blocked" else left_out


def _numbered(left_out: Exclusion, entry: Entry) -> BlockedChannel:
    return BlockedChannel.model_construct(
        range=left_out.range,
        reason=left_out.reason,
        channel=entry.channel,
        low_hz=entry.low_hz,
        high_hz=entry.high_hz,
    )


def _exclusion(span: Span, reason: str) -> Exclusion:
    short = reason if len(reason) <= _LONGEST_REASON else reason[: _LONGEST_REASON - 3] + "..."
    # The edges are hertz already.
    return Exclusion.model_construct(range=span, reason=short)


def _meet(a: Span, b: Span) -> bool:
    return a[0] < b[1] and b[0] < a[1]
