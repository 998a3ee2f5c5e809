"""What each TV station is at a place: distance, bearing, field, and how far its contour is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from geographiclib.geodesic import Geodesic

from sidon.spectrum.propagation import (
    Propagation,
    contour_km,
    effective_height_m,
    field_dbuv_m,
    free_space_dbuv_m,
)
from sidon.spectrum.region import Channel, Protection, Region, Service
from sidon.spectrum.station import Station

__all__ = ["Reach", "distance_km", "reaches"]

_MASK = Geodesic.DISTANCE | Geodesic.AZIMUTH


@dataclass(frozen=True)
class Reach:
    """A station as the place sees it.

    Parameters
    ----------
    station, channel, service : Station, Channel, Service
        What it is.
    distance_km : float
        Geodesic on the WGS 84 ellipsoid.
    bearing : float
        Direction from the place to the station, degrees from true north.
    erp_kw : float
        What it radiates towards the place.
    field_dbuv_m : float
        Field at the place, at half of the locations and the share of time of the service.
    free_space_dbuv_m : float
        The strongest it can be.
    threshold_dbuv_m : float
        The field at the protected contour.
    contour_km : float
        Distance of the contour from the station in this direction.
    """

    station: Station
    channel: Channel
    service: Service
    distance_km: float
    bearing: float
    erp_kw: float
    field_dbuv_m: float
    free_space_dbuv_m: float
    threshold_dbuv_m: float
    contour_km: float

    @property
    def margin_km(self) -> float:
        """How far outside the contour the place is; negative inside."""
        return self.distance_km - self.contour_km

    @property
    def margin_db(self) -> float:
        """How far the field at the place is below that of the contour; negative inside."""
        return self.threshold_dbuv_m - self.field_dbuv_m

    @property
    def where(self) -> str:
        """The margin in words."""
        if self.margin_km < 0:
            return f"{-self.margin_km:.1f} km inside the contour of {self.station.label!r}"
        return f"{self.margin_km:.1f} km outside the contour of {self.station.label!r}"


def distance_km(latitude: float, longitude: float, station: Station) -> float:
    """Return the geodesic distance of a station.

    Parameters
    ----------
    latitude, longitude : float
        Degrees north and east.
    station : Station
        The other end.

    Returns
    -------
    float
        Kilometres on the WGS 84 ellipsoid.
    """
    return _geodesic(latitude, longitude, station.latitude, station.longitude)[0]


@lru_cache(maxsize=50_000)
def _geodesic(
    latitude: float, longitude: float, far_latitude: float, far_longitude: float
) -> tuple[float, float, float]:
    """Return kilometres, and the azimuths at both ends, each onward from the place."""
    line = Geodesic.WGS84.Inverse(latitude, longitude, far_latitude, far_longitude, _MASK)
    return float(line["s12"]) / 1000, float(line["azi1"]), float(line["azi2"])


def reaches(
    region: Region,
    stations: Sequence[Station],
    latitude: float,
    longitude: float,
    *,
    propagation: Propagation,
) -> list[Reach]:
    """Work out every station at a place. About a millisecond per station.

    Parameters
    ----------
    region : Region
        Whose channels and services the stations name; those it does not know are left out.
    stations : sequence of Station
        The table.
    latitude, longitude : float
        The place.
    propagation : Propagation
        How fields are predicted.

    Returns
    -------
    list of Reach
        In the order of the table.
    """
    channels = {channel.name: channel for channel in region.channels}
    found = []
    for station in stations:
        channel, service = channels.get(station.channel), region.service(station.service)
        if channel is None or service is None or channel.band not in service.field:
            continue
        if region.protection is not None:
            protection = region.protection
            found.append(
                _reach(station, channel, service, protection, (latitude, longitude), propagation)
            )
    return found


def _reach(
    station: Station,
    channel: Channel,
    service: Service,
    protection: Protection,
    place: tuple[float, float],
    propagation: Propagation,
) -> Reach:
    distance, bearing, onward = _geodesic(*place, station.latitude, station.longitude)
    distance = max(distance, 1e-3)
    # At its far end the line still runs away from the place.
    erp = max(station.erp_towards_kw(onward + 180), 1e-9)
    threshold = service.field[channel.band]
    height = effective_height_m(station.height_m, station.height_above)
    contour = station.contour_km
    if contour is None:
        contour = contour_km(
            threshold,
            frequency_mhz=channel.centre_mhz,
            height_m=height,
            erp_kw=erp,
            receiver_height_m=protection.receiver_height_m,
            time_percent=service.time_percent,
            propagation=propagation,
        )
    field = field_dbuv_m(
        distance,
        frequency_mhz=channel.centre_mhz,
        height_m=height,
        erp_kw=erp,
        receiver_height_m=protection.receiver_height_m,
        time_percent=service.time_percent,
        propagation=propagation,
    )
    return Reach(
        station=station,
        channel=channel,
        service=service,
        distance_km=distance,
        bearing=bearing % 360,
        erp_kw=erp,
        field_dbuv_m=field,
        free_space_dbuv_m=free_space_dbuv_m(distance, erp_kw=erp),
        threshold_dbuv_m=threshold,
        contour_km=contour,
    )
