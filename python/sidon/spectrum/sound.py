"""What is wrong with stations against a region and a place: names, powers, coordinates, repeats."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain

from sidon._faults import nearest
from sidon.exceptions import Fault
from sidon.spectrum.power import likely_units
from sidon.spectrum.reach import distance_km
from sidon.spectrum.region import Region
from sidon.spectrum.station import Station

__all__ = ["station_faults"]

_FAR_KM = 1500.0
_NEAR_KM = 600.0
"""Swapping must bring two points from beyond the first distance to within the second."""


def station_faults(
    region: Region,
    stations: Sequence[Station],
    latitude: float | None,
    longitude: float | None,
    *,
    name: str = "stations",
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
        faults += _swapped(stations, latitude, longitude, name)
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
            yield Fault(place, what, nearest(station.service, known))
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
            f"{station.erp_kw:g} kW ERP is implausible for {station.service!r}, "
            f"whose stations have {low:g} to {high:g} kW"
        )
        # The number may have been written in another unit than the one it was read as.
        readings = {"kW": station.erp_kw, "W": station.erp_kw * 1000}
        better = [
            f"{value:g} {unit}"
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


def _swapped(
    stations: Sequence[Station], latitude: float, longitude: float, name: str
) -> Iterator[Fault]:
    straight = [distance_km(latitude, longitude, station) for station in stations]
    if min(straight) > _FAR_KM and abs(longitude) <= 90:
        swapped = min(distance_km(longitude, latitude, station) for station in stations)
        if swapped < _NEAR_KM:
            what = (
                f"the nearest station is {min(straight):,.0f} km away; with latitude and longitude "
                f"swapped, {swapped:,.0f} km"
            )
            yield Fault(
                "place.latitude", what, f"write latitude {longitude:g} and longitude {latitude:g}"
            )
            return
    for index, station in enumerate(stations):
        if straight[index] <= _FAR_KM or abs(station.longitude) > 90:
            continue
        other = {"latitude": station.longitude, "longitude": station.latitude}
        turned = distance_km(latitude, longitude, station.model_copy(update=other))
        if turned < _NEAR_KM:
            what = (
                f"{station.label!r} is {straight[index]:,.0f} km from the place; with latitude and "
                f"longitude swapped, {turned:,.0f} km"
            )
            remedy = f"write latitude {station.longitude:g} and longitude {station.latitude:g}"
            yield Fault(_place(station, index, name), what, remedy)
