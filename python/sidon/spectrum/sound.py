"""What is wrong with stations against a region and a place: names, powers, coordinates, repeats."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import chain

from sidon._faults import nearest
from sidon.exceptions import Fault
from sidon.spectrum.power import likely_units
from sidon.spectrum.reach import distance_km
from sidon.spectrum.region import Region
from sidon.spectrum.station import Station

__all__ = ["station_faults"]

Span = tuple[float, float]

_FAR_KM = 1500.0
_NEAR_KM = 600.0
"""Swapping, or another sign, must bring two points from beyond the first distance to within the
second."""


def station_faults(
    region: Region,
    stations: Sequence[Station],
    latitude: float | None,
    longitude: float | None,
    *,
    name: str = "stations",
    place: str = "place.",
) -> list[Fault]:
    """Find what is wrong with stations at a place. O(n) but for a sort.

    Parameters
    ----------
    region : Region
        Whose channels and services they should name.
    stations : sequence of Station
        The table.
    latitude, longitude : float, optional
        The place, when it is known.
    name : str, default "stations"
        What faults call the table.
    place : str, default "place."
        What faults put before latitude and longitude of the place.

    Returns
    -------
    list of Fault
        All of them, placed at the lines of the table.
    """
    faults = list(
        chain(
            _names(region, stations, name),
            _powers(region, stations, name),
            _repeats(stations, name),
        )
    )
    if latitude is not None and longitude is not None and stations:
        faults += _astray(region, stations, (latitude, longitude), name, place)
    return faults


def _place(station: Station, index: int, name: str) -> str:
    return f"{name}[{index}]" if station.line is None else f"{name}, line {station.line}"


def _names(region: Region, stations: Sequence[Station], name: str) -> Iterator[Fault]:
    bands = {channel.name: channel.band for channel in region.channels}
    known = [service.name for service in region.services]
    for index, station in enumerate(stations):
        place = _place(station, index, name)
        if station.channel not in bands:
            what = f"{region.name!r} has no channel {station.channel!r}"
            yield Fault(place, what, f"use {region.channel_words}, or leave the station out")
        service = region.service(station.service)
        if service is None:
            what = f"the service {station.service!r} is unknown"
            yield Fault(place, what, nearest(station.service.lower(), known))
        elif station.channel in bands and bands[station.channel] not in service.field:
            what = f"{station.service!r} has no protected field in {bands[station.channel]}"
            yield Fault(place, what, "add it to a region file of your own")


def _powers(region: Region, stations: Sequence[Station], name: str) -> Iterator[Fault]:
    for index, station in enumerate(stations):
        service = region.service(station.service)
        if service is None:
            continue
        low, high = service.erp_kw
        if low <= station.erp_kw <= high:
            continue
        what = (
            f"{_figure(station.erp_kw)} kW ERP is implausible for {station.service!r}, "
            f"whose stations have {_figure(low)} to {_figure(high)} kW"
        )
        # The number may have been written in another unit than the one it was read as.
        readings = {"kW": station.erp_kw, "W": station.erp_kw * 1000}
        better = [
            f"{_figure(value)} {unit}"
            for read, value in readings.items()
            for unit in likely_units(value, "ERP", low, high)
            if unit != read
        ]
        remedy = "check its unit"
        if better:
            remedy += f"; {' or '.join(dict.fromkeys(better))} would be plausible"
        yield Fault(_place(station, index, name), what, remedy)


def _repeats(stations: Sequence[Station], name: str) -> Iterator[Fault]:
    seen: dict[tuple[object, ...], str] = {}
    for index, station in enumerate(stations):
        key = (
            station.channel,
            round(station.latitude, 6),
            round(station.longitude, 6),
            station.service,
            station.erp_kw,
            tuple(station.pattern or ()),
        )
        place = _place(station, index, name)
        if key in seen:
            what = f"{station.label!r} on {station.channel} stands already at {seen[key]}"
            yield Fault(place, what, "keep it once")
        seen.setdefault(key, place)


def _figure(value: float) -> str:
    return f"{value:,.0f}" if value >= 1000 else f"{value:g}"


_TURNS: dict[str, Callable[[float, float], tuple[float, float]]] = {
    "latitude and longitude swapped": lambda north, east: (east, north),
    "the sign of the longitude changed": lambda north, east: (north, -east),
    "the sign of the latitude changed": lambda north, east: (-north, east),
}
"""What people get wrong about coordinates."""


def _astray(
    region: Region, stations: Sequence[Station], where: Span, name: str, place: str
) -> Iterator[Fault]:
    """Find a place or a table whose coordinates look swapped, or of the wrong sign."""
    straight = [distance_km(*where, station) for station in stations]
    nearest_km = min(straight)
    if nearest_km <= _FAR_KM:
        yield from _swapped(stations, straight, where, name)
        return
    for words, turn in _TURNS.items():
        there = turn(*where)
        if abs(there[0]) > 90:
            continue
        turned = min(distance_km(*there, station) for station in stations)
        if turned >= _NEAR_KM:
            continue
        what = f"the nearest station is {nearest_km:,.0f} km away; with {words}, {turned:,.0f} km"
        if region.extent and region.holds(*where):
            # The place lies where the region is, so the table is wrong.
            first = stations[straight.index(nearest_km)]
            there = turn(first.latitude, first.longitude)
            remedy = f"write latitude {there[0]:g} and longitude {there[1]:g} for {first.label!r}"
            yield Fault(name, what, f"{remedy}, and the other stations likewise")
            return
        remedy = f"write latitude {there[0]:g} and longitude {there[1]:g}"
        key = "longitude" if words.endswith("longitude changed") else "latitude"
        yield Fault(f"{place}{key}", what, f"{remedy}; if the place is right, mend {name}")
        return


def _swapped(
    stations: Sequence[Station], straight: Sequence[float], where: Span, name: str
) -> Iterator[Fault]:
    """Find single stations whose coordinates are swapped, in a table that is sound otherwise."""
    for index, station in enumerate(stations):
        if straight[index] <= _FAR_KM or abs(station.longitude) > 90:
            continue
        other = {"latitude": station.longitude, "longitude": station.latitude}
        turned = distance_km(*where, station.model_copy(update=other))
        if turned < _NEAR_KM:
            what = (
                f"{station.label!r} is {straight[index]:,.0f} km from the place; with latitude and "
                f"longitude swapped, {turned:,.0f} km"
            )
            remedy = f"write latitude {station.longitude:g} and longitude {station.latitude:g}"
            yield Fault(_place(station, index, name), what, remedy)
