"""What is free at a place: the table of channels with reasons, and the stations behind it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from sidon._columns import Columns
from sidon._files import write_text
from sidon._frames import Framed
from sidon.spectrum.given import read_given
from sidon.spectrum.level import Building, entry_loss_db, level_dbm
from sidon.spectrum.propagation import Propagation
from sidon.spectrum.reach import Reach, reaches
from sidon.spectrum.region import Region
from sidon.spectrum.station import Station
from sidon.spectrum.status import Entry, Terms, entries

__all__ = ["GAP_DB", "PlaceReport", "place_report"]

GAP_DB = 30.0
"""Further apart, a measured and a predicted level do not speak of the same thing."""
_CAUTIOUS_PERCENT = 10.0
"""Share of rooms whose entry loss is no larger: little loss means more TV indoors."""


@dataclass(frozen=True)
class PlaceReport(Framed):
    """The status of every channel and band at a place, with the reason for each.

    Parameters
    ----------
    region : Region
        Whose rules were applied.
    latitude, longitude : float, optional
        The place; None when no stations were looked at.
    terms : Terms
        What the asker holds, knows and has measured.
    propagation : Propagation
        How fields were predicted.
    entries : tuple of Entry
        By frequency.
    reaches : tuple of Reach, optional
        Every station; None when there was no table.
    building : str, optional
        Kind of building, when the place is indoors.
    ignored : tuple of str
        Columns of the table of stations that nothing was read from.
    """

    region: Region
    latitude: float | None
    longitude: float | None
    terms: Terms
    propagation: Propagation
    entries: tuple[Entry, ...]
    reaches: tuple[Reach, ...] | None
    building: Building | None = None
    ignored: tuple[str, ...] = ()

    def channel(self, name: str | int) -> Entry:
        """Look a channel up.

        Parameters
        ----------
        name : str or int
            Such as 21 or "9A".

        Returns
        -------
        Entry
            Its status and reason.

        Raises
        ------
        StudyError
            When the region has no such channel.
        """
        wanted = self.region.channel(name).name
        return next(entry for entry in self.entries if entry.channel == wanted)

    @property
    def where(self) -> str:
        """The place in words; empty when it is not known."""
        if self.latitude is None or self.longitude is None:
            return ""
        south, west = self.latitude < 0, self.longitude < 0
        return (
            f"{abs(self.latitude):g} {'south' if south else 'north'}, "
            f"{abs(self.longitude):g} {'west' if west else 'east'}"
        )

    def indoor_dbm(self, reach: Reach) -> float | None:
        """Estimate the level of a station indoors, for an isotropic antenna.

        Parameters
        ----------
        reach : Reach
            The station.

        Returns
        -------
        float or None
            Field less an entry loss that a tenth of rooms fall short of, in dBm; None outdoors. No
            estimate stands in for the measurement that an indoor rule asks for.
        """
        return None if self.building is None else self._indoor_dbm(reach, self.building)

    def _indoor_dbm(self, reach: Reach, building: Building) -> float:
        mhz = reach.channel.centre_mhz
        loss = entry_loss_db(mhz, percent=_CAUTIOUS_PERCENT, building=building)
        return level_dbm(reach.field_dbuv_m, mhz) - loss

    def measured_dbm(self, entry: Entry) -> float | None:
        """Return the level of TV indoors that was measured on a channel.

        Parameters
        ----------
        entry : Entry
            The channel.

        Returns
        -------
        float or None
            dBm over the whole channel, as it was given; None where nothing was measured.
        """
        return self.terms.measured_dbm.get(entry.channel)

    def predicted_dbm(self, entry: Entry) -> float | None:
        """Estimate the level of all stations on a channel indoors, to hold a measurement against.

        Parameters
        ----------
        entry : Entry
            The channel.

        Returns
        -------
        float or None
            The strongest of them in dBm, in a traditional building where none is said; None
            without a station.
        """
        found = [r for r in self.reaches or () if r.channel.name == entry.channel]
        levels = [self._indoor_dbm(r, self.building or "traditional") for r in found]
        return max(levels, default=None)

    def gap_db(self, entry: Entry) -> float | None:
        """Return by how much the measured level of a channel exceeds what is predicted.

        Parameters
        ----------
        entry : Entry
            The channel.

        Returns
        -------
        float or None
            dB; None where nothing was measured or no station is known.
        """
        measured = self.measured_dbm(entry)
        predicted = None if measured is None else self.predicted_dbm(entry)
        return None if measured is None or predicted is None else measured - predicted

    def _model(self, reach: Reach) -> str:
        given = reach.station.contour_km is not None and not reach.overruled
        return self.propagation.words + ("; contour as the table gives it" if given else "")

    def columns(self) -> Columns:
        """Return the channels and bands as columns.

        Returns
        -------
        Columns
            ``channel``, ``band``, edges in hertz, ``status``, ``reason``, the deciding station
            with distance, bearing, field, threshold, free-space field, contour and margins (not
            a number where there are none), the ``model`` behind them, ``indoor_dbm`` as estimated
            and ``measured_dbm`` as given, ``as_of`` and ``source``.
        """
        rows = self.entries
        reach = [row.reach for row in rows]
        return Columns(
            channel=_texts(row.channel for row in rows),
            band=_texts(row.band for row in rows),
            low_hz=np.array([row.low_hz for row in rows], dtype=np.int64),
            high_hz=np.array([row.high_hz for row in rows], dtype=np.int64),
            status=_texts(row.status for row in rows),
            reason=_texts(row.reason for row in rows),
            **_reach_columns(reach),
            model=_texts("" if r is None else self._model(r) for r in reach),
            indoor_dbm=_numbers(None if r is None else self.indoor_dbm(r) for r in reach),
            measured_dbm=_numbers(self.measured_dbm(row) for row in rows),
            as_of=_texts(_date(row.as_of) for row in rows),
            source=_texts(row.source for row in rows),
        )

    def station_columns(self) -> Columns:
        """Return every station at the place as columns.

        Returns
        -------
        Columns
            ``channel``, ``service``, ``station`` and the figures of `columns`.
        """
        found = self.reaches or ()
        return Columns(
            channel=_texts(reach.channel.name for reach in found),
            service=_texts(reach.service.name for reach in found),
            **_reach_columns(found),
        )

    def to_csv(self, path: str | Path) -> None:
        """Write the channels and bands as CSV, whole or not at all.

        Parameters
        ----------
        path : str or Path
            Where to; an existing file is replaced.

        Raises
        ------
        PlanError
            When something that is no regular file stands there; it is left alone.
        OSError
            When it cannot be written.
        """
        from sidon.spectrum.words import csv_text

        write_text(path, csv_text(self))

    def summary(self) -> str:
        """Write the table and its cautions for people.

        Returns
        -------
        str
            Lines without the last line end.
        """
        from sidon.spectrum.words import summary

        return summary(self)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to mind about all of it."""
        from sidon.spectrum.cautions import cautions

        return cautions(self)

    def __repr__(self) -> str:
        counts: dict[str, int] = {}
        for entry in self.entries:
            if entry.channel:
                counts[entry.status] = counts.get(entry.status, 0) + 1
        text = ", ".join(f"{count} {status}" for status, count in counts.items())
        return f"PlaceReport({self.region.name!r}: TV channels {text or 'none'})"

    def _repr_html_(self) -> str:
        from sidon.spectrum.words import html_text

        return html_text(self)


def place_report(
    region: Region | str | Path,
    stations: Sequence[Station] | None = None,
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    licensed: bool = False,
    confirmed: Iterable[str] = (),
    covers: Iterable[str] = (),
    occupied: Iterable[str | int] | None = None,
    measured_dbm: Mapping[str | int, float] | None = None,
    building: Building | None = None,
    propagation: Propagation | None = None,
    as_of: dt.date | None = None,
    source: str = "",
) -> PlaceReport:
    """Give every TV channel and band of a region its status at a place.

    Parameters
    ----------
    region : Region, str or Path
        As `sidon.region` takes it.
    stations : sequence of Station, optional
        From `sidon.read_stations`; without them, and without `occupied`, TV channels are "not
        checked".
    latitude, longitude : float, optional
        The place in degrees north and east; needed with stations.
    licensed : bool, default False
        Whether bands that need a licence may be used.
    confirmed : iterable of str
        Names of entries of the region you have checked yourself; "contours" holds those that the
        table gives even where the model contradicts them grossly.
    covers : iterable of str
        Bands of TV channels, such as "VHF high", that the table covers although it has no station
        of them within 300 km; without, such a band is "not checked".
    occupied : iterable of str or int, optional
        Channels known to be occupied; an empty list says that there are none.
    measured_dbm : mapping, optional
        Indoors: the level of TV over the whole channel as measured, by channel.
    building : {"traditional", "thermally-efficient"}, optional
        Kind of building, to estimate levels indoors.
    propagation : Propagation, optional
        Longley-Rice when not given.
    as_of : date, optional
        Date of stations and occupied channels.
    source : str, optional
        Where they come from.

    Returns
    -------
    PlaceReport
        Estimates, not permissions.

    Raises
    ------
    StudyError
        When an argument is of the wrong kind or out of range, channels, services or names are
        unknown, powers implausible, coordinates swapped, or stations repeated; all faults are
        listed.

    Examples
    --------
    >>> import sidon
    >>> rows = [{"channel": 21, "lat": 0.1, "lon": -30.2, "erp_kw": 15, "haat_m": 100}]
    >>> stations = sidon.read_stations(rows, service="digital")
    >>> report = sidon.place_report("us", stations, latitude=0, longitude=-30)
    >>> report.channel(21).status, report.channel(22).status, report.channel(23).status
    ('blocked', 'adjacent', 'usable')
    """
    options = {
        "licensed": licensed,
        "confirmed": confirmed,
        "covers": covers,
        "occupied": occupied,
        "measured_dbm": measured_dbm,
        "building": building,
        "propagation": propagation,
        "as_of": as_of,
        "source": source,
    }
    given = read_given(region, stations, latitude, longitude, options)
    where, north, east = given.region, given.latitude, given.longitude
    found: tuple[Reach, ...] | None = None
    if given.stations is not None and north is not None and east is not None:
        trusted = "contours" in given.terms.confirmed
        how = given.propagation
        found = tuple(reaches(where, given.stations, north, east, propagation=how, trusted=trusted))
    report = PlaceReport(
        region=where,
        latitude=north,
        longitude=east,
        terms=given.terms,
        propagation=given.propagation,
        entries=tuple(entries(where, found, given.terms)),
        reaches=found,
        building=given.building,
    )
    return replace(report, entries=tuple(_doubted(report, entry) for entry in report.entries))


def _doubted(report: PlaceReport, entry: Entry) -> Entry:
    """Say beside a channel when its measured level does not go with what is predicted."""
    gap = report.gap_db(entry)
    if gap is None or abs(gap) <= GAP_DB:
        return entry
    side = "below" if gap < 0 else "above"
    what = f"the measured level is {abs(gap):.0f} dB {side} what is predicted: check it"
    return replace(entry, reason=f"{entry.reason}; {what}")


def _reach_columns(found: Sequence[Reach | None]) -> dict[str, Any]:
    def of(key: str) -> Any:  # noqa: ANN401 - a column
        return _numbers(None if reach is None else getattr(reach, key) for reach in found)

    return {
        "station": _texts("" if reach is None else reach.station.label for reach in found),
        "distance_km": of("distance_km"),
        "bearing": of("bearing"),
        "erp_kw": of("erp_kw"),
        "field_dbuv_m": of("field_dbuv_m"),
        "threshold_dbuv_m": of("threshold_dbuv_m"),
        "free_space_dbuv_m": of("free_space_dbuv_m"),
        "contour_km": of("contour_km"),
        "margin_km": of("margin_km"),
        "margin_db": of("margin_db"),
    }


def _texts(values: Iterable[str]) -> Any:  # noqa: ANN401 - a column
    return np.array(list(values), dtype=np.str_)


def _numbers(values: Iterable[float | None]) -> Any:  # noqa: ANN401 - a column
    return np.array([np.nan if v is None else v for v in values], dtype=np.float64)


def _date(day: dt.date | None) -> str:
    return "" if day is None else day.isoformat()
