"""What a plan must say about the region it rests on: estimates, dates, limits of its bands."""

from __future__ import annotations

from collections.abc import Sequence

from sidon.spectrum.cautions import FIRST, age_caution, measured_cautions, raster_cautions
from sidon.spectrum.propagation import Propagation
from sidon.spectrum.region import Band, Region
from sidon.spectrum.status import allowed
from sidon.study.compile import LinkRow
from sidon.study.place import report_at, terms_of
from sidon.study.schema import Availability, Profile, StudyModel

__all__ = ["place_cautions"]

Carrier = tuple[Profile, int]


def place_cautions(model: StudyModel, rows: Sequence[tuple[LinkRow, int]]) -> list[str]:
    """List what a plan must say about the place it is made for.

    Parameters
    ----------
    model : StudyModel
        The study, its availability resolved.
    rows : sequence of (LinkRow, int)
        Every link with its frequency in hertz; negative where it has none.

    Returns
    -------
    list of str
        Sentences; none without a region.
    """
    availability = model.availability
    region = availability.region.region if availability.region is not None else None
    if region is None:
        return []
    profiles = {profile.name: profile for profile in model.profiles}
    carriers = [(profiles[row.profile], hz) for row, hz in rows if hz >= 0 and not row.incumbent]
    spans = [(hz - p.bandwidth // 2, hz + p.bandwidth // 2) for p, hz in carriers]
    terms = terms_of(availability)
    found = [_rests_on(region, availability)]
    if any(a < c.high_hz and c.low_hz < b for a, b in spans for c in region.channels):
        # The same plan whenever it is made: its date is told, not judged by the day.
        found.append(age_caution(availability.as_of, today=availability.as_of))
    if terms.confirmed or terms.covers:
        names = ", ".join(sorted(terms.confirmed | terms.covers))
        found.append(f"Confirmed by the study, not by the region file: {names}.")
    if terms.measured_dbm and region.protection is not None and region.protection.caution:
        found.append(region.protection.caution)
    if terms.measured_dbm and availability.stations is not None:
        found += measured_cautions(report_at(region, availability, model.place))
    found += raster_cautions(region, spans)
    found += _limits([band for band in region.bands if allowed(band, terms)], carriers)
    return found


def _rests_on(region: Region, availability: Availability) -> str:
    table = availability.stations
    stations = ""
    if table is not None:
        how = availability.propagation or Propagation()
        count = f"{len(table.rows)} station{'' if len(table.rows) == 1 else 's'}"
        source = availability.source or table.file or "source not said"
        stations = f"; fields of {count} ({source}) by {how.words}"
    rules = f"What is free follows from region {region.name!r}: {region.title}{stations}."
    return f"{FIRST} {rules} {region.caution}"


def _limits(bands: Sequence[Band], carriers: Sequence[Carrier]) -> list[str]:
    """Say how strong and how wide the carriers of a plan may be in each band they stand in."""
    found = []
    powers = []
    for band in bands:
        inside = [
            (profile, hz)
            for profile, hz in carriers
            if any(low <= hz <= high for low, high in band.ranges)
        ]
        if not inside:
            continue
        if band.power_mw is not None:
            powers.append(f"{band.name}: {band.power_mw:g} mW {band.power_is}")
        wide = dict.fromkeys(
            f"{profile.name} ({profile.bandwidth / 1e3:g} kHz)"
            for profile, _ in inside
            if band.bandwidth is not None and profile.bandwidth > band.bandwidth
        )
        if wide:
            found.append(
                f"Wider than the {(band.bandwidth or 0) / 1e3:g} kHz that {band.name!r} allows: "
                f"{', '.join(wide)}. Check the rule, or use narrower equipment."
            )
    if powers:
        found.insert(0, f"Power at most, by the rules of the region: {'; '.join(powers)}.")
    return found
