"""What to mind about the status of channels at a place: dates, tables, models, measurements."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from sidon.spectrum.status import NEAR_KM

if TYPE_CHECKING:
    from sidon.spectrum.reach import Reach
    from sidon.spectrum.region import Region
    from sidon.spectrum.report import PlaceReport

__all__ = ["FIRST", "age_caution", "cautions", "measured_cautions", "raster_cautions"]

FIRST = "Estimates, not permissions: licences, local rules and a scan at the place decide."

_FEW = 5
"""Fewer stations near a place than this are a short table."""
_STALE_DAYS = 365


def cautions(report: PlaceReport) -> tuple[str, ...]:
    """List what to mind about a report.

    Parameters
    ----------
    report : PlaceReport
        The report.

    Returns
    -------
    tuple of str
        Sentences, the weightiest first.
    """
    found = [FIRST]
    if report.reaches is not None:
        found += _of_table(report, report.reaches)
        if report.region.protection is not None and report.region.protection.caution:
            found.append(report.region.protection.caution)
    found.append(age_caution(report.terms.as_of))
    found += _of_place(report)
    if any(entry.status == "not checked" for entry in report.entries):
        found.append('"not checked" is not free: nothing here says whether it may be used.')
    if report.terms.confirmed:
        names = ", ".join(sorted(report.terms.confirmed))
        found.append(f"Confirmed by the study, not by the region file: {names}.")
    if report.terms.covers:
        names = ", ".join(sorted(report.terms.covers))
        found.append(f"That the table covers {names} is said by the study.")
    found += measured_cautions(report)
    if report.building is not None:
        found.append(
            "Levels indoors are estimates (Rec. ITU-R P.2109, loss that a tenth of rooms fall "
            "short of); only a measurement over the whole channel counts."
        )
    spans = [(entry.low_hz, entry.high_hz) for entry in report.entries if entry.channel]
    found += raster_cautions(report.region, spans)
    found.append(f"Region {report.region.name!r}: {report.region.title}. {report.region.caution}")
    return tuple(found)


def age_caution(as_of: dt.date | None, today: dt.date | None = None) -> str:
    """Say how old a list of TV channels is.

    Parameters
    ----------
    as_of : date, optional
        Its date.
    today : date, optional
        The day to judge by; the day of the call when not given.

    Returns
    -------
    str
        One sentence.
    """
    if as_of is None:
        return "The list of TV channels carries no date (availability.as_of): such lists go stale."
    days = ((today or dt.datetime.now(tz=dt.UTC).date()) - as_of).days
    said = f"The list of TV channels is of {as_of}"
    # One day's grace: it may be tomorrow already where the list was made.
    if days < -1:
        return f"{said}, a date yet to come: check availability.as_of."
    if days > _STALE_DAYS:
        return f"{said}, more than a year old: fetch a new one."
    return f"{said}: such lists go stale."


def raster_cautions(region: Region, spans: Sequence[tuple[int, int]]) -> list[str]:
    """List what is to be minded about TV channels that meet some spans.

    Parameters
    ----------
    region : Region
        The region.
    spans : sequence of (int, int)
        In hertz.

    Returns
    -------
    list of str
        One sentence or more for each raster with a caution; the same is said once.
    """
    names: dict[str, list[str]] = {}
    for raster in region.rasters:
        low = raster.first_edge
        high = low + raster.width * len(raster.channels)
        if raster.caution and any(a < high and low < b for a, b in spans):
            names.setdefault(raster.caution, []).append(raster.band)
    return [f"{', '.join(dict.fromkeys(bands))}: {text}" for text, bands in names.items()]


def _of_table(report: PlaceReport, reaches: Sequence[Reach]) -> Iterator[str]:
    count = f"{len(reaches)} station{'' if len(reaches) == 1 else 's'}"
    yield (
        f"Fields: {report.propagation.words}, at half of the locations, from a table of {count}; "
        "no terrain, walls or buildings. Single places differ by 10 dB and more."
    )
    near = sum(reach.distance_km < NEAR_KM for reach in reaches)
    if near < _FEW:
        some = f"only {near} station{'' if near == 1 else 's'}" if near else "no station"
        yield (
            f"The table has {some} within {NEAR_KM:g} km of the place: is it whole? A station "
            "that is not in it is not seen here."
        )
    if report.ignored:
        names = ", ".join(repr(name) for name in report.ignored[:12])
        yield f"Columns of the table that nothing was read from: {names}."
    for reach in reaches:
        if reach.overruled:
            yield f"{reach.station.label} on {reach.channel.name}: {reach.overruled}."
    if any(reach.station.height_above == "ground" for reach in reaches):
        yield (
            "Heights above ground are taken as effective heights: a mast on a hill reaches "
            "further than computed."
        )


def _of_place(report: PlaceReport) -> Iterator[str]:
    if report.latitude is None or report.longitude is None:
        return
    if not report.region.holds(report.latitude, report.longitude):
        yield (
            f"The place, {report.where}, lies outside the countries of the region "
            f"{report.region.name!r}: check sign and order of the coordinates, or the region."
        )


def measured_cautions(report: PlaceReport) -> list[str]:
    """Tell of measurements that do not go with what is predicted.

    Parameters
    ----------
    report : PlaceReport
        The report.

    Returns
    -------
    list of str
        One sentence at most.
    """
    from sidon.spectrum.report import GAP_DB

    apart = []
    for entry in report.entries:
        gap, level = report.gap_db(entry), report.measured_dbm(entry)
        if gap is not None and level is not None and abs(gap) > GAP_DB:
            apart.append(f"{entry.channel} ({level:g}, predicted {level - gap:.0f})")
    if not apart:
        return []
    return [
        f"Measured and predicted levels lie more than {GAP_DB:g} dB apart on "
        f"{', '.join(apart)} dBm: check the aerial, the cable and the width of the "
        "measurement, or the table, before you lean on it."
    ]
