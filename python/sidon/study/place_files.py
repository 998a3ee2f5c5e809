"""Files a study names about its place: a region of one's own, and a table of TV stations."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sidon.exceptions import StudyError
from sidon.spectrum.region import read_region
from sidon.spectrum.station import PartlyReadError, Station, other_columns, read_rows
from sidon.spectrum.table import header_of, read_csv, read_options, rows_of
from sidon.study.source import read_toml

__all__ = [
    "UNREAD",
    "ignored_columns",
    "read_region_file",
    "read_station_file",
    "read_station_list",
    "sound_stations",
]

_BESIDE = ("file", "covers", "ignored")
"""What stands beside the name of a file and says nothing about reading it."""


class _Unread:
    """Stands for a region whose file cannot be read, so that nothing else is said of it."""


UNREAD = _Unread()


def read_region_file(text: str, name: str) -> dict[str, Any]:
    """Read a region file.

    Parameters
    ----------
    text, name : str
        What it holds, and what faults call it.

    Returns
    -------
    dict
        The region as plain data, sound.

    Raises
    ------
    StudyError
        When it is no TOML, or holds faults; all are listed.
    """
    return read_region(read_toml(text, name=name), name=name).model_dump(mode="json")


def read_station_file(text: str, name: str, options: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Read a CSV file of TV stations.

    Parameters
    ----------
    text, name : str
        What it holds, and what faults call it.
    options : mapping
        What stands beside the name in the study: the fields of `StationOptions`.

    Returns
    -------
    list of dict
        Stations as plain data.

    Raises
    ------
    StudyError
        When it holds faults; all are listed with line and column.
    """
    given = {key: value for key, value in options.items() if key not in _BESIDE}
    found = read_options(given, name="availability.stations")
    return _plain(read_csv(text, options=found, name=name))


def sound_stations(error: StudyError) -> list[dict[str, Any]]:
    """Take what is sound out of a table that holds faults, to check it with the rest.

    Parameters
    ----------
    error : StudyError
        What `read_station_file` raised.

    Returns
    -------
    list of dict
        Stations as plain data; none where the columns are at fault.
    """
    return _plain(error.sound) if isinstance(error, PartlyReadError) else []


def ignored_columns(text: str, options: Mapping[str, Any]) -> dict[str, list[str]]:
    """Name the columns of a table of stations that nothing is read from.

    Parameters
    ----------
    text : str
        The table.
    options : mapping
        What stands beside its name in the study.

    Returns
    -------
    dict
        ``ignored``, where there are any.
    """
    given = {key: value for key, value in options.items() if key not in _BESIDE}
    found = other_columns(header_of(text), read_options(given, name="availability.stations"))
    return {"ignored": found} if found else {}


def read_station_list(rows: object, place: str) -> list[dict[str, Any]]:
    """Read TV stations that stand in the study itself.

    Parameters
    ----------
    rows : list or data frame
        One table per station, or what `sidon.read_stations` gave.
    place : str
        Where in the study they stand.

    Returns
    -------
    list of dict
        Stations as plain data.

    Raises
    ------
    StudyError
        When they hold faults; all are listed.
    """
    if isinstance(rows, list) and rows and all(isinstance(row, Station) for row in rows):
        return _plain(rows)
    return _plain(read_rows(rows_of(rows, name=place), name=place))


def _plain(stations: list[Station]) -> list[dict[str, Any]]:
    return [station.model_dump(mode="json", exclude_none=True) for station in stations]
