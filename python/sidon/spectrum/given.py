"""What a report on a place is asked with: every argument checked, with all faults together."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from numbers import Real
from pathlib import Path
from typing import Any, get_args

from sidon._faults import nearest
from sidon._schema import shown
from sidon.exceptions import Fault, StudyError
from sidon.spectrum.level import Building
from sidon.spectrum.propagation import Propagation
from sidon.spectrum.region import Region
from sidon.spectrum.region import region as named_region
from sidon.spectrum.sound import station_faults
from sidon.spectrum.station import Station
from sidon.spectrum.status import Terms

__all__ = ["MOST_DBM", "Given", "band_faults", "confirmable", "name_faults", "read_given"]

MOST_DBM = (-200.0, 30.0)
"""Between what levels a measurement lies."""


@dataclass(frozen=True)
class Given:
    """What a report is asked with, sound.

    Parameters
    ----------
    region, latitude, longitude, stations, terms, building, propagation
        As `sidon.spectrum.report.PlaceReport` and `place_report` name them.
    """

    region: Region
    latitude: float | None
    longitude: float | None
    stations: Sequence[Station] | None
    terms: Terms
    building: Building | None
    propagation: Propagation


def confirmable(region: Region) -> list[str]:
    """List what may be confirmed of a region.

    Parameters
    ----------
    region : Region
        The region.

    Returns
    -------
    list of str
        Names of bands, services and rasters; "protection" and "contours" where it has one.
    """
    known = [band.name for band in region.bands]
    known += [service.name for service in region.services]
    known += list(dict.fromkeys(raster.band for raster in region.rasters))
    return known + (["protection", "contours"] if region.protection else [])


def name_faults(region: Region, names: Iterable[tuple[int, Any]], place: str) -> Iterator[Fault]:
    """Find names under confirmed that are nothing of a region.

    Parameters
    ----------
    region : Region
        The region.
    names : iterable of (int, str)
        Index and name of each.
    place : str
        What faults call the list.

    Yields
    ------
    Fault
        One per unknown name.
    """
    known = confirmable(region)
    for index, name in names:
        if name not in known:
            what = f"{region.name!r} has no entry {shown(name)}"
            yield Fault(f"{place}[{index}]", what, nearest(str(name), known))


def band_faults(region: Region, names: Iterable[tuple[int, Any]], place: str) -> Iterator[Fault]:
    """Find names under covers that are no band of TV channels of a region.

    Parameters
    ----------
    region : Region
        The region.
    names : iterable of (int, str)
        Index and name of each.
    place : str
        What faults call the list.

    Yields
    ------
    Fault
        One per unknown name.
    """
    known = list(dict.fromkeys(raster.band for raster in region.rasters))
    for index, name in names:
        if name not in known:
            what = f"{region.name!r} has no band {shown(name)} of TV channels"
            yield Fault(f"{place}[{index}]", what, nearest(str(name), known))


def read_given(
    region: Region | str | Path,
    stations: object,
    latitude: object,
    longitude: object,
    options: Mapping[str, Any],
) -> Given:
    """Check what a report is asked with.

    Parameters
    ----------
    region, stations, latitude, longitude : object
        As they were given to `place_report`.
    options : mapping
        Its other arguments, by name.

    Returns
    -------
    Given
        Sound.

    Raises
    ------
    StudyError
        When anything is wrong with any of them; all faults are listed.
    """
    faults: list[Fault] = []
    where = _region(region, faults)
    north, east = _coordinates(latitude, longitude, faults, half=stations is not None)
    table = _stations(stations, faults)
    if table is not None:
        for key, value in (("latitude", latitude), ("longitude", longitude)):
            if value is None:
                what = "stations say nothing without a place"
                faults.append(Fault(key, what, "give latitude and longitude"))
    terms = _terms(where, options, faults)
    building, how = options["building"], options["propagation"]
    if building is not None and building not in get_args(Building):
        kinds = " or ".join(repr(kind) for kind in get_args(Building))
        faults.append(
            Fault("building", f"{shown(building)} is no kind of building", f"use {kinds}")
        )
    if how is not None and not isinstance(how, Propagation):
        remedy = "give sidon.spectrum.Propagation(model='free-space') or the like"
        faults.append(Fault("propagation", f"{shown(how)} is no Propagation", remedy))
        how = None
    if where is not None and table is not None:
        faults += station_faults(where, table, north, east, place="")
    if faults or where is None:
        raise StudyError(faults)
    return Given(where, north, east, table, terms, building, how or Propagation())


def _region(region: object, faults: list[Fault]) -> Region | None:
    if isinstance(region, Region):
        return region
    if not isinstance(region, str | Path):
        what = f"{shown(region)} is no region"
        faults.append(Fault("region", what, "give a name, a path, or what sidon.region gave"))
        return None
    try:
        return named_region(region)
    except StudyError as error:
        faults += error.faults
        return None


def _number(value: object) -> float | None:
    sound = isinstance(value, Real) and not isinstance(value, bool)
    return float(value) if sound and math.isfinite(value) else None  # type: ignore[arg-type]


def _coordinates(
    latitude: object, longitude: object, faults: list[Fault], *, half: bool
) -> tuple[float | None, float | None]:
    found: list[float | None] = []
    for key, value, most in (("latitude", latitude, 90), ("longitude", longitude, 180)):
        number = _number(value)
        remedy = f"give -{most} to {most} degrees, as a decimal fraction"
        if value is not None and number is None:
            faults.append(Fault(key, f"{shown(value)} is not a number of degrees", remedy))
        elif number is not None and abs(number) > most:
            other = _number(longitude) if key == "latitude" else None
            if other is not None and abs(other) <= 90 and abs(number) <= 180:
                remedy += "; latitude and longitude may be swapped"
            if key == "longitude" and abs(number) <= 360:
                remedy += f"; the same meridian is {number - math.copysign(360, number):g}"
            faults.append(Fault(key, f"{number:g} is out of range", remedy))
            number = None
        found.append(number)
    if not half and (latitude is None) != (longitude is None):
        key = "latitude" if latitude is None else "longitude"
        faults.append(Fault(key, "half a place is none", "give latitude and longitude"))
    return found[0], found[1]


def _stations(stations: object, faults: list[Fault]) -> Sequence[Station] | None:
    if stations is None:
        return None
    remedy = "give what sidon.read_stations gave"
    if isinstance(stations, str | bytes | Path) or not isinstance(stations, Iterable):
        faults.append(Fault("stations", f"{shown(stations)} is no list of stations", remedy))
        return None
    rows = list(stations)
    wrong = [(n, row) for n, row in enumerate(rows) if not isinstance(row, Station)]
    for index, row in wrong[:20]:
        faults.append(Fault(f"stations[{index}]", f"{shown(row)} is no station", remedy))
    if not rows:
        faults.append(Fault("stations", "the table is empty", "give at least one station"))
    return None if wrong or not rows else rows


def _terms(region: Region | None, options: Mapping[str, Any], faults: list[Fault]) -> Terms:
    confirmed = _names(options["confirmed"], "confirmed", faults)
    covers = _names(options["covers"], "covers", faults)
    if region is not None:
        faults += name_faults(region, enumerate(confirmed), "confirmed")
        faults += band_faults(region, enumerate(covers), "covers")
    for key, kind, words in (("licensed", bool, "True or False"), ("source", str, "text")):
        if not isinstance(options[key], kind):
            faults.append(Fault(key, f"{shown(options[key])} is not {words}", f"give {words}"))
    as_of = options["as_of"]
    if isinstance(as_of, dt.datetime):
        as_of = as_of.date()
    if as_of is not None and not isinstance(as_of, dt.date):
        remedy = "give a date such as datetime.date(2026, 7, 4)"
        faults.append(Fault("as_of", f"{shown(as_of)} is not a date", remedy))
    occupied = None
    if options["occupied"] is not None:
        names = _names(options["occupied"], "occupied", faults)
        occupied = frozenset(_channels(region, names, faults))
    return Terms(
        licensed=bool(options["licensed"]),
        confirmed=frozenset(str(name) for name in confirmed),
        covers=frozenset(str(name) for name in covers),
        occupied=occupied,
        measured_dbm=_measured(region, options["measured_dbm"], faults),
        as_of=as_of,
        source=str(options["source"]),
    )


def _names(value: object, place: str, faults: list[Fault]) -> list[Any]:
    if isinstance(value, str | bytes | Mapping) or not isinstance(value, Iterable):
        remedy = f"give a list, such as [{value!r}]" if isinstance(value, str) else "give a list"
        faults.append(Fault(place, f"{shown(value)} is not a list of names", remedy))
        return []
    return list(value)


def _channels(region: Region | None, names: Sequence[Any], faults: list[Fault]) -> Iterator[str]:
    known = {channel.name for channel in region.channels} if region is not None else set()
    seen: set[str] = set()
    for index, given in enumerate(names):
        name, place = str(given).strip(), f"occupied[{index}]"
        if region is not None and name not in known:
            what = f"{region.name!r} has no channel {shown(given)}"
            faults.append(Fault(place, what, f"use {region.channel_words}"))
        elif name in seen:
            faults.append(Fault(place, f"channel {name} stands twice", "keep it once"))
        seen.add(name)
        yield name


def _measured(region: Region | None, levels: object, faults: list[Fault]) -> dict[str, float]:
    if levels is None:
        return {}
    if not isinstance(levels, Mapping):
        what = f"{shown(levels)} is no table of levels"
        faults.append(Fault("measured_dbm", what, "give levels by channel, such as {'21': -90}"))
        return {}
    known = {channel.name for channel in region.channels} if region is not None else set()
    found: dict[str, float] = {}
    for key, value in levels.items():
        name, place = str(key).strip(), f"measured_dbm[{key!r}]"
        if region is not None and name not in known:
            what = f"{region.name!r} has no channel {shown(key)}"
            faults.append(Fault(place, what, f"use {region.channel_words}"))
        number = _number(value)
        low, high = MOST_DBM
        if number is None or not low <= number <= high:
            what = f"{shown(value)} is no level in dBm"
            faults.append(Fault(place, what, f"give a number from {low:g} to {high:g}"))
        else:
            found[name] = number
    return found
