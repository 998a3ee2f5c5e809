"""What each TV station is at a place: distance, bearing, field, and how far its contour is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
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

_GROSS_RATIO = 2.0
_GROSS_DB = 15.0
"""Beyond twice its length, or 15 dB above its field outside of it, a given contour is doubted:
the model errs by 30 % and 13 dB at most where it was compared."""

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
    computed_km : float, optional
        What the model says where the table gives a contour.
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
    computed_km: float | None = None

    @property
    def overruled(self) -> str:
        """What is said of a given contour that the model contradicts grossly; else empty."""
        given = self.station.contour_km
        if given is None or self.contour_km == given:
            return ""
        return (
            f"the table gives a contour of {given:g} km, the model {self.contour_km:.0f} km and "
            f"{self.field_dbuv_m:.0f} dBuV/m here: taken from the model; correct the table, or "
            "list 'contours' in confirmed"
        )

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
    trusted: bool = False,
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
    trusted : bool, default False
        Whether contours that the table gives hold even where the model contradicts them grossly.

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
            given = station, channel, service, region.protection, (latitude, longitude)
            reach = _reach(*given, propagation)
            if station.contour_km is not None and not trusted:
                # Free space would contradict every contour.
                free = propagation.model == "free-space"
                reach = _doubted(reach, _reach(*given, Propagation()) if free else reach)
            found.append(reach)
    return found


def _doubted(reach: Reach, model: Reach) -> Reach:
    """Take the model's contour where the given one is far too short to be true."""
    given, computed = reach.station.contour_km, model.computed_km
    if given is None or computed is None or computed <= given:
        return reach
    outside = reach.distance_km > given
    strong = outside and model.field_dbuv_m > model.threshold_dbuv_m + _GROSS_DB
    if computed > _GROSS_RATIO * given or strong:
        return replace(reach, contour_km=computed)
    return reach


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
    computed = contour_km(
        threshold,
        frequency_mhz=channel.centre_mhz,
        height_m=height,
        erp_kw=erp,
        receiver_height_m=protection.receiver_height_m,
        time_percent=service.time_percent,
        propagation=propagation,
    )
    given = station.contour_km
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
        contour_km=computed if given is None else given,
        computed_km=None if given is None else computed,
    )
