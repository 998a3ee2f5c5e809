"""What is free at a place: regions with their rules, TV stations, fields, channel status."""

from sidon.spectrum.level import entry_loss_db, field_of_dbm, level_dbm, radio_horizon_km
from sidon.spectrum.propagation import Propagation, contour_km, field_dbuv_m
from sidon.spectrum.region import Region, region, region_names
from sidon.spectrum.report import PlaceReport, place_report
from sidon.spectrum.station import Station
from sidon.spectrum.table import read_stations

__all__ = [
    "PlaceReport",
    "Propagation",
    "Region",
    "Station",
    "contour_km",
    "entry_loss_db",
    "field_dbuv_m",
    "field_of_dbm",
    "level_dbm",
    "place_report",
    "radio_horizon_km",
    "read_stations",
    "region",
    "region_names",
]
